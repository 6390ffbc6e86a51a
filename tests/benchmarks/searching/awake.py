"""Cores that do not fall asleep while something is measured."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager

_TURNS = """
import os, sys
os.sched_setscheduler(0, os.SCHED_IDLE, os.sched_param(0))
while os.getppid() == int(sys.argv[1]):
    pass
"""


@contextmanager
def cores_kept_awake() -> Iterator[None]:
    """Let a process turn on every core in whatever time nobody else wants: SCHED_IDLE, see ``man 7 sched``.

    A virtual machine gives a core away that has nothing to do. A statement sent to another process and answered by it
    then waits twice for the host to wake one, which takes as long as the statement itself and differs from one minute
    to the next; a server with work to do does not see that.
    """
    command = [sys.executable, "-c", _TURNS, str(os.getpid())]
    turning = [subprocess.Popen(command) for _ in range(os.cpu_count() or 1)]
    try:
        yield
    finally:
        for process in turning:
            process.kill()
            process.wait()
