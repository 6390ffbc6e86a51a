"""The web server over HTTPS: waitress speaks no TLS, so gunicorn serves, with one threaded worker process.

The worker process carries the background threads as the HTTP server's own process does; gunicorn's parent only watches.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from gunicorn.app.base import BaseApplication

from fleet.management.embedded.jobs import Jobs
from fleet.management.embedded.prepare import held_open

GRACE = 3  # seconds for requests and for tasks that have begun; all in all the end takes less than 5


class Https(BaseApplication):  # type: ignore[misc]  # gunicorn ships no types
    """One gunicorn worker with threads, a certificate and the background work."""

    def __init__(
        self, application: Callable[..., Any], *, host: str, port: int, certificate: Path, key: Path, threads: int
    ) -> None:
        bound = f"[{host}]:{port}" if ":" in host else f"{host}:{port}"
        self._application = application
        self._jobs = Jobs()
        self._options = {
            "bind": bound,
            "certfile": str(certificate),
            "keyfile": str(key),
            "workers": 1,
            "worker_class": "gthread",
            "threads": threads,
            "graceful_timeout": GRACE,
            "loglevel": "warning",
            "control_socket_disable": True,
            "post_worker_init": lambda worker: self._begin(),
            "worker_exit": lambda server, worker: self._jobs.stop(GRACE),
        }
        super().__init__()

    def _begin(self) -> None:
        self._held = held_open()
        self._jobs.start()

    def load_config(self) -> None:
        """Our options, and nothing from files or the environment."""
        for name, value in self._options.items():
            self.cfg.set(name, value)

    def load(self) -> Callable[..., Any]:
        """The WSGI application."""
        return self._application
