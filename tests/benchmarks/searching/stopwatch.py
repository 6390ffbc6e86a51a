"""The time that database calls take: execute and fetch, whoever makes them."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from time import perf_counter
from typing import Any

from django.db import connection
from django.db.backends.utils import CursorWrapper


class Stopwatch:
    """Milliseconds, and the number of statements."""

    def __init__(self) -> None:
        self.milliseconds = 0.0
        self.statements = 0

    def timed(self, call: Callable[..., Any], *args: Any) -> Any:
        """What ``call`` gives, its time added."""
        started = perf_counter()
        try:
            return call(*args)
        finally:
            self.milliseconds += (perf_counter() - started) * 1000


@contextmanager
def database_time() -> Iterator[Stopwatch]:
    """Measure every database call made within."""
    watch = Stopwatch()

    class Timed(CursorWrapper):
        def execute(self, sql: Any, params: Any = None) -> Any:
            watch.statements += 1
            return watch.timed(super().execute, sql, params)

        def executemany(self, sql: Any, param_list: Any) -> Any:
            watch.statements += 1
            return watch.timed(super().executemany, sql, param_list)

        def fetchall(self) -> Any:
            return watch.timed(self.cursor.fetchall)

        def fetchone(self) -> Any:
            return watch.timed(self.cursor.fetchone)

        def fetchmany(self, *args: Any) -> Any:
            return watch.timed(self.cursor.fetchmany, *args)

    make: Any = connection.make_cursor
    connection.make_cursor = lambda cursor: Timed(cursor, connection)  # type: ignore[method-assign]
    try:
        yield watch
    finally:
        connection.make_cursor = make  # type: ignore[method-assign]
