"""One soak: load invitations, let real senders send them while things are killed, then count."""

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from tests.servers.postgres import Postgres
from tests.servers.process import Server, answers, free_port, scratch_folder
from tests.servers.redis import Redis
from tests.soak.plan import Found, Plan
from tests.soak.sink import MoodyServer

PROJECT = Path(__file__).resolve().parent.parent.parent
MAIL_TIMEOUT = 2


class Soak:
    """Holds the servers and processes of one soak; ``close`` ends every one that is left."""

    def __init__(self, plan: Plan, say: Callable[[str], None] = lambda _text: None) -> None:
        self.plan, self.say = plan, say
        self.draw = random.Random(plan.seed)
        self.folder = scratch_folder()
        self.mail = MoodyServer(plan.delay)
        self.postgres = Postgres() if plan.scale else None
        self.redis = Redis() if plan.scale else None
        self.senders: list[Server] = []
        self.beats: list[Server] = []
        self.found = Found(invitations=plan.invitations)
        self.driver: subprocess.Popen[str] | None = None
        self._logs = 0
        self._held = False

    def run(self) -> Found:
        """Load, fault, count."""
        began = time.monotonic()
        self._python("manage.py", "migrate", "--verbosity=0")
        self._ask("load", self.plan.invitations, "first")
        self.say(f"{self.plan.invitations} invitations queued after {time.monotonic() - began:.0f} s")
        began = time.monotonic()
        self._start_beats()
        self._start_sender()
        withdrawing = self._withdraw()
        for act in self._faults():
            self._let_mail_flow()
            act()
        output, _errors = withdrawing.communicate(timeout=self.plan.longest)
        self.found.withdrawn = len(output.splitlines())
        self._drain()
        self._stop_cleanly()
        self._count()
        self.found.seconds = round(time.monotonic() - began, 1)
        self._held = not self.found.faults()
        return self.found

    def close(self) -> None:
        """End what still runs, by id. The folder with its logs stays where something did not hold."""
        for server in (*self.senders, *self.beats):
            _end_group(server)
        if self.driver:
            self.driver.kill()
            self.driver.wait()
        self.mail.stop()
        if self.redis:
            self.redis.stop()
        if self.postgres:
            self.postgres.stop()
        if self._held:
            shutil.rmtree(self.folder, ignore_errors=True)

    def _faults(self) -> list[Callable[[], None]]:
        acts = [self._kill_sender] * self.plan.kills
        acts += [self._kill_redis] * self.plan.redis_kills + [self._restart_database] * self.plan.database_restarts
        self.draw.shuffle(acts)
        return acts

    def _let_mail_flow(self) -> None:
        """Wait until a random share of the mails arrived, so that faults meet senders at work from first to last; not
        long, because what a killed sender held or a server put off leaves late.
        """
        share = 0.7 * self.plan.invitations / self.plan.faults
        wanted = self.mail.sink.arrived() + self.draw.uniform(0.2, 1.8) * share
        ends = time.monotonic() + min(30.0, max(10.0, self.plan.invitations / 100))
        while self.mail.sink.arrived() < wanted and time.monotonic() < ends:
            self._keep_sender()
            time.sleep(0.02)
        time.sleep(self.draw.uniform(0, 0.1))

    def _kill_sender(self) -> None:
        for server in self.senders:
            _end_group(server)
        self.senders.clear()
        self.found.kills += 1
        self.say(f"sender killed, {self.found.kills}; {self.mail.sink.arrived()} mails have arrived")
        self._start_sender()

    def _kill_redis(self) -> None:
        assert self.redis
        old = self.redis.server
        old.stop(signal.SIGKILL)
        time.sleep(0.5)
        self.redis.server = Server(_command_of(old), log=old.log)
        self.redis.server.wait_until(lambda: answers(self.redis.port) if self.redis else False)
        self.found.redis_kills += 1

    def _restart_database(self) -> None:
        assert self.postgres
        from tests.servers.process import unprivileged_user

        old = self.postgres.server
        old.stop(signal.SIGINT)
        fresh = Server(_command_of(old), log=old.log, user=unprivileged_user(), cwd=self.postgres.folder)
        self.postgres.server = fresh
        fresh.wait_until(lambda: answers(self.postgres.port) if self.postgres else False)
        self.found.database_restarts += 1

    def _drain(self) -> None:
        """Let the rest leave; what waits for a later try is made due."""
        ends = time.monotonic() + self.plan.longest
        while time.monotonic() < ends:
            self._keep_sender()
            states = self._states()["states"]
            self.say(f"states {states}")
            if not states.get("queued") and not states.get("claimed") and not states.get("transmitting"):
                return
            self._ask("pass_time")
            time.sleep(2)
        raise TimeoutError("the queue did not run empty")

    def _stop_cleanly(self) -> None:
        """A few more mails, and SIGTERM while they leave."""
        self._ask("load", 40 if self.plan.invitations < 1000 else 400, "last")
        before = self._states()
        time.sleep(1.5)
        began = time.monotonic()
        for server in self.senders:
            server.process.send_signal(signal.SIGTERM)
        for server in self.senders:
            server.process.wait(30)
        self.senders.clear()
        self.found.stopped_in = round(time.monotonic() - began, 2)
        self._ask("end_leases")
        self._ask("recover")
        after = self._states()
        fresh = set(after["unknown"]) - set(before["unknown"])
        self.found.unknown_by_clean_stop = len(fresh - self.mail.sink.unanswered)
        self._start_sender()
        self._drain()
        self.found.invitations += 40 if self.plan.invitations < 1000 else 400

    def _count(self) -> None:
        found, states = self.found, self._states()
        received, unanswered = self.mail.sink.received, self.mail.sink.unanswered
        sent, unknown = set(states["sent"]), set(states["unknown"])
        found.states = dict(states["states"])
        found.arrived = len(received)
        found.doubled = sum(1 for count in received.values() if count > 1)
        found.sent_but_not_arrived = len(sent - set(received))
        found.unknown = len(unknown - unanswered)
        found.unanswered_on_purpose = len(unanswered)
        ends = found.kills + found.database_restarts + found.ended_by_themselves
        found.unknown_allowed = self.plan.senders * ends
        found.left_after_withdrawal = len(states["late"])
        ended = sum(found.states.get(state, 0) for state in ("sent", "failed", "stopped", "unknown"))
        found.lost = found.invitations - ended

    def _start_sender(self) -> None:
        if self.plan.scale:
            command = ["-m", "celery", "-A", "fleet.config", "worker", "--concurrency=2", "--loglevel=WARNING"]
            self.senders.append(self._spawn(*command))
        else:
            self.senders.append(self._spawn("manage.py", "serve", "--port", str(free_port())))

    def _keep_sender(self) -> None:
        """Start a sender that ended by itself anew, as a restart policy does: a Celery worker whose Redis was killed
        was seen to give up in its library's own reconnecting.
        """
        for server in [each for each in self.senders if each.process.poll() is not None]:
            self.senders.remove(server)
            self.found.ended_by_themselves += 1
            self._start_sender()

    def _start_beats(self) -> None:
        if self.plan.scale:
            for number in range(2):
                schedule = str(self.folder / f"beat-{number}")
                self.beats.append(
                    self._spawn(
                        "-m", "celery", "-A", "fleet.config", "beat", "--schedule", schedule, "--loglevel=WARNING"
                    )
                )

    def _withdraw(self) -> "subprocess.Popen[str]":
        seconds = max(3.0, self.plan.invitations / 100)
        arguments = [str(self.plan.withdrawals), str(seconds), str(self.plan.seed)]
        return subprocess.Popen(
            [sys.executable, "-m", "tests.soak.withdraw", *arguments],
            cwd=PROJECT, env=self._environment(), stdout=subprocess.PIPE, stderr=self._log(), text=True,
        )  # fmt: skip

    def _spawn(self, *arguments: str) -> Server:
        self._logs += 1
        log = self.folder / f"log-{self._logs}"
        return Server([sys.executable, *arguments], log=log, environment=self._environment(), cwd=PROJECT)

    def _states(self) -> dict[str, Any]:
        answer: dict[str, Any] = self._ask("states")
        return answer

    def _ask(self, *words: object) -> Any:
        """One command to the driver, which is started at the first."""
        if self.driver is None:
            self.driver = subprocess.Popen(
                [sys.executable, "-m", "tests.soak.driver"], cwd=PROJECT, env=self._environment(), text=True,
                stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self._log(),
            )  # fmt: skip
        assert self.driver.stdin
        assert self.driver.stdout
        self.driver.stdin.write(json.dumps(words) + "\n")
        self.driver.stdin.flush()
        answer = self.driver.stdout.readline()
        if not answer:
            raise RuntimeError(f"the driver ended: {(self.folder / 'other-log').read_text()[-3000:]}")
        return json.loads(answer)

    def _python(self, *arguments: str) -> str:
        done = subprocess.run(
            [sys.executable, *arguments], cwd=PROJECT, env=self._environment(), capture_output=True, text=True,
            timeout=self.plan.longest, check=False,
        )  # fmt: skip
        if done.returncode:
            raise RuntimeError(f"{arguments} ended with {done.returncode}: {done.stderr[-2000:]}")
        return done.stdout

    def _environment(self) -> dict[str, str]:
        kept = {name: value for name, value in os.environ.items() if not name.startswith("ROOFTALLY_")}
        kept |= {
            "DJANGO_SETTINGS_MODULE": "fleet.config.settings",
            "ROOFTALLY_DATA_DIR": str(self.folder / "data"),
            "ROOFTALLY_MAIL_URL": self.mail.url,
            "ROOFTALLY_MAIL_TIMEOUT": str(MAIL_TIMEOUT),
            "ROOFTALLY_MAIL_DOMAIN_PACE": "0",
            "ROOFTALLY_LOG_LEVEL": "WARNING",
            "PYTHONDONTWRITEBYTECODE": "1",
        }
        if self.postgres and self.redis:
            kept |= {
                "ROOFTALLY_DATABASE_URL": self.postgres.url,
                "ROOFTALLY_DATABASE_POOL": "4",
                "ROOFTALLY_REDIS_URL": self.redis.url(),
            }
        return kept

    def _log(self) -> int:
        return os.open(self.folder / "other-log", os.O_WRONLY | os.O_CREAT | os.O_APPEND)


def _end_group(server: Server) -> None:
    """SIGKILL to a process that a soak started and to the processes that one started, each by its id."""
    for pid in [*_children(server.process.pid), server.process.pid]:
        try:
            os.kill(pid, signal.SIGKILL)
        except ProcessLookupError:
            continue
    server.process.wait()


def _command_of(server: Server) -> list[str]:
    args = server.process.args
    assert isinstance(args, list)
    return [str(word) for word in args]


def _children(pid: int) -> list[int]:
    found: list[int] = []
    for task in Path(f"/proc/{pid}/task").glob("*/children") if Path(f"/proc/{pid}").exists() else []:
        for child in task.read_text().split():
            found += [int(child), *_children(int(child))]
    return found
