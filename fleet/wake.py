"""Wakes background work by task name, after the transaction that made the work due.

The row is the truth and a sweep finds what is due, so a lost wake-up costs time only; hence ``robust``.
"""

from functools import partial

from django.db import transaction

from fleet.config.celery import app


def wake(task: str, **kwargs: str | int) -> None:
    """Send ``task`` (a dotted task name) its wake-up once the current transaction has committed."""
    transaction.on_commit(partial(app.send_task, task, kwargs=kwargs, ignore_result=True), robust=True)
