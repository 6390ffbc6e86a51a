"""Wakes background work by task name, after the transaction that made the work due.

The row is the truth and a sweep finds what is due, so a lost wake-up costs time only; hence ``robust``. Whoever made
the work due often waits for a page, so a broker that is away is not waited for: one try of half a second.
"""

import logging

from django.db import transaction
from kombu.connection import Connection
from kombu.pools import producers

from fleet.config.celery import app

PATIENCE = 0.5
_IMPATIENT = {"socket_timeout": PATIENCE, "socket_connect_timeout": PATIENCE, "max_retries": 0}
log = logging.getLogger(__name__)


def wake(task: str, **kwargs: str | int) -> None:
    """Send ``task`` (a dotted task name) its wake-up once the current transaction has committed."""
    transaction.on_commit(lambda: _send(task, kwargs), robust=True)


def _send(task: str, kwargs: dict[str, str | int]) -> None:
    try:
        with producers[_line()].acquire(block=True, timeout=PATIENCE) as producer:
            app.send_task(task, kwargs=kwargs, ignore_result=True, retry=False, producer=producer)
    except Exception as error:  # whatever kept it, the sweep finds the row
        log.warning("%s was not woken (%s); it looks by itself before long", task, type(error).__name__)


def _line() -> Connection:
    """A connection that workers do not share: theirs may wait long for the next message."""
    connection: Connection = app.connection_for_write(transport_options=_IMPATIENT)
    return connection
