"""The embedded run as one thing that starts and stops."""

import os
import socket
import sys
from collections.abc import Callable
from typing import Any

from django.core.wsgi import get_wsgi_application

from fleet.management.embedded.jobs import Jobs
from fleet.management.embedded.prepare import held_open
from fleet.management.embedded.web import Web

WEB_SECONDS = 1.5
JOB_SECONDS = 3.0


def application() -> Callable[..., Any]:
    """The WSGI application, made after static files were collected (WhiteNoise lists them once)."""
    return get_wsgi_application()


class Embedded:
    """Web and background work on one bound socket."""

    def __init__(self, listener: socket.socket) -> None:
        self._listener = listener
        self._jobs = Jobs()

    def start(self) -> None:
        """Begin to answer and to work."""
        self._held = held_open()
        self._web = Web(application(), self._listener)
        self._jobs.start()
        self._web.start()

    def stop(self) -> None:
        """End both within 5 seconds; where a task will not end, the process does."""
        self._web.stop(WEB_SECONDS)
        if not self._jobs.stop(JOB_SECONDS):
            sys.stdout.flush()
            os._exit(0)  # the interpreter would wait for the task; its row is swept at the next start
