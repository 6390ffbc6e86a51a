"""Starting a server as a child process, waiting until it answers, and stopping it."""

import ctypes
import os
import pwd
import shutil
import signal
import socket
import subprocess
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

PR_SET_PDEATHSIG = 1  # prctl(2): the kernel ends the child when the thread that started it is gone


class ServerFailed(Exception):
    """A server did not start; the message holds the end of what it wrote."""


def free_port() -> int:
    """A TCP port on loopback that nothing listens on just now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def answers(port: int) -> bool:
    """Whether something accepts connections on this loopback port."""
    with socket.socket() as probe:
        probe.settimeout(1)
        return probe.connect_ex(("127.0.0.1", port)) == 0


def unprivileged_user() -> str | None:
    """A user to start PostgreSQL as, which refuses to run as root; None when this process is not root."""
    if os.geteuid() != 0:
        return None
    known = {entry.pw_name for entry in pwd.getpwall()}
    for name in ("postgres", "nobody"):
        if name in known:
            return name
    raise ServerFailed("The tests run as root and there is no user postgres or nobody to start PostgreSQL as.")


def scratch_folder(owner: str | None = None, *, on_disk: bool = False) -> Path:
    """A new folder in memory where the machine has one (unless ``on_disk``), else on disk, belonging to ``owner``."""
    memory = Path("/dev/shm")
    in_memory = not on_disk and os.access(memory, os.W_OK)
    folder = Path(tempfile.mkdtemp(prefix="rooftally-test-", dir=memory if in_memory else None))
    if owner is not None:
        shutil.chown(folder, owner)
    return folder


class Server:
    """One child process with its log; ``stop`` ends exactly that process."""

    def __init__(
        self,
        command: Sequence[str],
        *,
        log: Path,
        user: str | None = None,
        environment: Mapping[str, str] | None = None,
        cwd: Path | None = None,
    ) -> None:
        self.log = log
        self._stream = log.open("ab")
        entry = pwd.getpwnam(user) if user else None
        self.process = subprocess.Popen(
            command,
            stdout=self._stream,
            stderr=subprocess.STDOUT,
            stdin=subprocess.DEVNULL,
            env=None if environment is None else dict(environment),
            cwd=cwd,
            user=entry.pw_uid if entry else None,
            group=entry.pw_gid if entry else None,
            extra_groups=[] if entry else None,
            preexec_fn=_end_with_parent,
        )

    def wait_until(self, ready: Callable[[], bool], *, seconds: float = 60) -> None:
        """Return once ``ready()`` holds; raise ServerFailed when the process ends or ``seconds`` pass before that."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if self.process.poll() is not None:
                raise ServerFailed(f"{self.process.args!r} ended with {self.process.returncode}:\n{self.tail()}")
            if ready():
                return
            time.sleep(0.05)
        raise ServerFailed(f"{self.process.args!r} was not ready after {seconds} s:\n{self.tail()}")

    def tail(self, characters: int = 4000) -> str:
        """The end of what the server wrote."""
        return self.log.read_text(errors="replace")[-characters:]

    def stop(self, how: signal.Signals = signal.SIGTERM, *, seconds: float = 20) -> int:
        """Ask the process to end and wait for it, killing it after ``seconds``; answers its exit status."""
        if self.process.poll() is None:
            self.process.send_signal(how)
            try:
                self.process.wait(seconds)
            except subprocess.TimeoutExpired:
                self.process.kill()
                self.process.wait()
        self._stream.close()
        return int(self.process.returncode)


def _end_with_parent() -> None:
    ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
