"""Statements with their parameters, as values: what reads and writes is put together first and run afterwards."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple, cast

from django.db import connection


class Statement(NamedTuple):
    """A statement, or a part of one, with its parameters."""

    sql: str
    params: Sequence[Any] | dict[str, Any]

    def run(self) -> list[tuple[Any, ...]]:
        """Its rows; none where it gives none."""
        with connection.cursor() as cursor:
            cursor.execute(self.sql, self.params)
            return cast("list[tuple[Any, ...]]", cursor.fetchall()) if cursor.description else []


class ForEachRow(Statement):
    """A statement that is run for each of its rows of parameters, one after the other."""

    __slots__ = ()

    def run(self) -> list[tuple[Any, ...]]:
        """No rows."""
        with connection.cursor() as cursor:
            cursor.executemany(self.sql, cast("Sequence[Any]", self.params))
        return []
