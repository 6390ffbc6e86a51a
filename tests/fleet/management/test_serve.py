"""``manage.py serve``: one process that answers, works and stops."""

import os
import ssl
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from urllib.request import urlopen

import pytest

from tests.servers.process import Server, answers, free_port

pytestmark = [pytest.mark.slow, pytest.mark.once, pytest.mark.timeout(400)]


def environment(data: Path, **settings: str) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("ROOFTALLY_", "PYTEST_"))}
    return kept | {"ROOFTALLY_DATA_DIR": str(data)} | settings


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One data folder for all: the first start fills it."""
    return tmp_path_factory.mktemp("serve")


class Serving:
    """A running ``manage.py serve``."""

    def __init__(self, data: Path, *arguments: str, **settings: str) -> None:
        self.port = free_port()
        command = [sys.executable, "manage.py", "serve", "--port", str(self.port), *arguments]
        self.server = Server(command, log=data / f"log-{self.port}", environment=environment(data, **settings))
        try:
            self.server.wait_until(lambda: answers(self.port), seconds=300)  # the first start collects static files
        except Exception:
            self.server.stop()
            raise


@pytest.fixture
def plain(data: Path) -> Iterator[Serving]:
    serving = Serving(data)
    yield serving
    serving.server.stop()


def test_it_answers_says_that_mail_is_held_and_stops_when_told(plain: Serving, data: Path):
    for page in ("healthz", "readyz"):
        with urlopen(f"http://127.0.0.1:{plain.port}/{page}", timeout=30) as answer:
            assert answer.status == 200
    assert plain.server.stop() == 0
    assert "Mail is held: ROOFTALLY_MAIL_URL is not set." in plain.server.tail()
    assert "Traceback" not in plain.server.tail()
    assert (data / "secret-key").stat().st_mode & 0o777 == 0o600


def test_a_taken_address_is_said_in_words(plain: Serving, data: Path):
    second = subprocess.run(
        [sys.executable, "manage.py", "serve", "--port", str(plain.port)],
        env=environment(data), capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert second.returncode == 1
    assert f"Nothing can be served at 127.0.0.1 port {plain.port}" in second.stderr


def test_https_with_a_certificate_of_its_own(data: Path):
    serving = Serving(data, "--self-signed", ROOFTALLY_BASE_URL="https://localhost:8443")
    try:
        trusted = ssl.create_default_context(cafile=str(data / "tls" / "certificate.pem"))
        with urlopen(f"https://localhost:{serving.port}/readyz", timeout=30, context=trusted) as answer:
            assert answer.status == 200
            assert "max-age" in answer.headers["Strict-Transport-Security"]
    finally:
        status = serving.server.stop()
    assert status == 0
    assert "Traceback" not in serving.server.tail()
    assert (data / "tls" / "key.pem").stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize(
    ("arguments", "settings", "words"),
    [
        (["--self-signed"], {}, "Set ROOFTALLY_BASE_URL to the https:// address"),
        (["--certificate", "x.pem"], {}, "--certificate and --key go together."),
        ([], {"ROOFTALLY_BASEURL": "http://x"}, "No such setting: ROOFTALLY_BASEURL"),
        ([], {"ROOFTALLY_DATABASE_POOL": "many"}, "ROOFTALLY_DATABASE_POOL takes a whole number"),
    ],
)
def test_what_cannot_be_served_is_said_at_once(data: Path, arguments: list[str], settings: dict[str, str], words: str):
    ended = subprocess.run(
        [sys.executable, "manage.py", "serve", *arguments],
        env=environment(data, **settings), capture_output=True, text=True, timeout=300,
    )  # fmt: skip
    assert ended.returncode == 1
    assert words in ended.stderr
    assert "Traceback" not in ended.stderr
