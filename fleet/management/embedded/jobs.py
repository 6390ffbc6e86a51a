"""The Celery worker and the beat service as threads of this process, over the memory broker."""

import logging
import threading
import time
from typing import Any

from celery import beat

from fleet.config.celery import app

log = logging.getLogger(__name__)
THREADS = 2


class Jobs:
    """Background work inside this process; ``stop`` lets running tasks end."""

    def __init__(self) -> None:
        self._worker: Any = None
        self._threads: list[threading.Thread] = []
        self._beat: Any = None

    def start(self) -> None:
        """Start the worker and the schedule. The root logger stays as settings made it."""
        app.finalize()
        self._worker = app.WorkController(
            pool="threads",
            concurrency=THREADS,
            without_heartbeat=True,
            without_mingle=True,
            without_gossip=True,
            enable_remote_control=False,
            quiet=True,
        )
        self._beat = beat.EmbeddedService(app, thread=True, scheduler_cls="celery.beat:Scheduler")
        worker = threading.Thread(target=self._worker.start, name="worker", daemon=True)
        self._threads = [worker, self._beat]
        for thread in self._threads:
            thread.start()

    def stop(self, seconds: float) -> bool:
        """Stop both within ``seconds``; False when a task was still running then."""
        self._beat.service.stop(wait=False)
        ending = threading.Thread(target=self._worker.stop, name="end of worker", daemon=True)  # waits for tasks
        ending.start()
        end = time.monotonic() + seconds
        for thread in (*self._threads, ending):
            thread.join(max(0.0, end - time.monotonic()))
        ended = not any(thread.is_alive() for thread in (*self._threads, ending))
        if not ended:
            log.warning(
                "Background work was still running at the end; what it left undone is taken up at the next start."
            )
        return ended
