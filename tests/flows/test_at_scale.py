"""The same job at scale, each part a real process: PostgreSQL, Redis, gunicorn, a worker, beat."""

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

import pytest

from onboarding.management.demo.people import SignIn
from onboarding.management.demo.story import Job, link_in
from tests.servers.postgres import Postgres
from tests.servers.process import Server, free_port
from tests.servers.redis import Redis
from tests.servers.smtp import SmtpServer

pytestmark = [pytest.mark.scale, pytest.mark.timeout(300)]
ADMIN = "leonor@example.org"


class Installation:
    """Everything started as ``docker-compose.yml`` would start it, without containers."""

    def __init__(self, data: Path, stack: ExitStack) -> None:
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.mail = SmtpServer()
        stack.callback(self.mail.stop)
        postgres = Postgres()
        stack.callback(postgres.stop)
        redis = Redis()
        stack.callback(redis.stop)
        kept = {name: value for name, value in os.environ.items() if not name.startswith(("ROOFTALLY_", "PYTEST_"))}
        self.environment = kept | {
            "ROOFTALLY_DATA_DIR": str(data),
            "ROOFTALLY_BASE_URL": self.url,
            "ROOFTALLY_DATABASE_URL": postgres.url,
            "ROOFTALLY_REDIS_URL": redis.url(),
            "ROOFTALLY_MAIL_URL": self.mail.url,
        }
        self.manage("migrate", "--noinput", "-v0")
        self.manage("collectstatic", "--noinput", "-v0")
        self.password = self.manage("create_company", "Telhado Claro", "--admin", ADMIN).rpartition("once: ")[2].strip()
        celery = [sys.executable, "-m", "celery", "-A", "fleet.config.celery"]
        self.programs = {
            "web": [
                *(
                    sys.executable,
                    "-m",
                    "gunicorn",
                    "fleet.config.wsgi:application",
                    "--bind",
                    f"127.0.0.1:{self.port}",
                ),
                *("--worker-class", "gthread", "--workers", "2", "--threads", "4", "--no-control-socket"),
            ],
            "worker": [*celery, "worker", "--concurrency", "2", "--loglevel", "INFO"],
            "beat": [*celery, "beat", "--schedule", str(data / "beat"), "--pidfile=", "--loglevel", "INFO"],
        }
        self.servers = {name: self._start(name, data, stack) for name in self.programs}
        self.servers["web"].wait_until(self.ready, seconds=90)
        for name, word in (("worker", " ready."), ("beat", "beat: Starting...")):  # before, nothing minds a signal
            self.servers[name].wait_until(partial(self._has_said, name, word), seconds=60)

    def manage(self, *arguments: str) -> str:
        """Run a management command; answers what it printed."""
        ended = subprocess.run(
            [sys.executable, "manage.py", *arguments], env=self.environment, capture_output=True, text=True, check=False
        )
        assert ended.returncode == 0, ended.stdout + ended.stderr
        return ended.stdout

    def ready(self) -> bool:
        """Whether the web server says that it can serve."""
        try:
            with urlopen(f"{self.url}/readyz", timeout=10) as answer:
                return bool(answer.status == 200)
        except (URLError, OSError):
            return False

    def _has_said(self, name: str, word: str) -> bool:
        return word in self.servers[name].log.read_text()

    def link_for(self, address: str) -> str:
        """The link in the mail that the worker sent to ``address``."""
        received = self.mail.sink.to(address)
        return link_in(received[0].message.get_body(("plain",)).get_content()) if received else ""

    def _start(self, name: str, data: Path, stack: ExitStack) -> Server:
        server = Server(self.programs[name], log=data / f"{name}.log", environment=self.environment)
        stack.callback(server.stop)
        return server


@pytest.fixture(scope="module")
def installation(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Installation]:
    with ExitStack() as stack:
        yield Installation(tmp_path_factory.mktemp("scale"), stack)


def test_the_whole_job_with_a_worker_of_its_own(installation: Installation):
    told: list[str] = []
    staff = SignIn("Leonor", ADMIN, installation.password)
    job = Job(installation.url, staff, 1, told.append, find_link=installation.link_for)
    assert job.run(), "\n".join([*told, installation.servers["worker"].tail()])
    [mail] = installation.mail.sink.to(job.address)[:1]
    assert mail.message["Auto-Submitted"] == "auto-generated"
    assert "whole" in installation.manage("verify_consents")
    assert "onboarding.tasks.sweep_deliveries" in installation.servers["worker"].log.read_text()


def test_beat_wakes_the_worker_by_itself(installation: Installation):
    log = installation.servers["beat"].log
    installation.servers["beat"].wait_until(lambda: "Sending due task" in log.read_text(), seconds=60)


@pytest.mark.parametrize("name", ["beat", "worker", "web"])
def test_each_part_ends_when_told(installation: Installation, name: str):
    server = installation.servers[name]
    assert server.stop(signal.SIGTERM, seconds=40) == 0
    assert "Traceback" not in server.log.read_text()
