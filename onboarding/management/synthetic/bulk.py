"""Writing very many rows: executemany on SQLite, COPY on PostgreSQL, a few microseconds each."""

import json
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, date, datetime
from typing import Any
from uuid import UUID

from django.core.management.color import no_style
from django.db import connection, models

Value = str | int | bool | None
CHUNK = 20_000


class Bulk:
    """Rows of one model, collected and written in chunks.

    ``names`` are the columns that vary (attribute names, ``site_id``); every other column takes its field's default
    once and for all. Keys are given out here, from the highest key in the table on.
    """

    def __init__(self, model: type[models.Model], names: Sequence[str], **constants: Any) -> None:
        self._model = model
        fields = [field for field in model._meta.concrete_fields if field.attname not in names]
        others = {field.attname: constants.get(field.attname, field.get_default()) for field in fields}
        self._keyed = model._meta.pk.attname == "id" and "id" not in names
        if self._keyed:
            others.pop("id")
        columns = {field.attname: field.column for field in model._meta.concrete_fields}
        self._columns = [columns[name] for name in (*names, *others)]
        self._others = tuple(plain(value) for value in others.values())
        self._rows: list[tuple[Value, ...]] = []
        highest = model._default_manager.aggregate(highest=models.Max("pk"))["highest"] if self._keyed else 0
        self._last_key = int(highest or 0)
        self.written = 0

    def add(self, *values: Value) -> int:
        """One row, its values in the order of ``names``; answers its key."""
        self._last_key += 1
        key = (self._last_key,) if self._keyed else ()
        self._rows.append((*key, *values, *self._others))
        return self._last_key

    def write(self) -> None:
        """Put what was collected into the table."""
        columns = ["id", *self._columns] if self._keyed else self._columns
        write_rows(self._model._meta.db_table, columns, self._rows)
        self.written += len(self._rows)
        self._rows = []


def write_rows(table: str, columns: Sequence[str], rows: Sequence[tuple[Value, ...]]) -> None:
    """Insert rows by the quickest way that the database has."""
    names = ", ".join(f'"{column}"' for column in columns)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.copy(f'COPY "{table}" ({names}) FROM STDIN') as copy:
                for row in rows:
                    copy.write_row(row)
        else:
            marks = ", ".join(["%s"] * len(columns))
            cursor.executemany(f'INSERT INTO "{table}" ({names}) VALUES ({marks})', rows)  # noqa: S608  # our own names


@contextmanager
def quick_writing() -> Iterator[None]:
    """On SQLite: without looking up each foreign key, which rows made here hold anyway, with a large page cache, and
    without waiting for the disk. A machine that fails meanwhile may spoil the database: it is an invented fleet's.
    """
    if connection.vendor != "sqlite":
        yield
        return
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA cache_size = -1000000")
        if connection.in_atomic_block:  # a test's
            yield
            return
        standing = cursor.execute("PRAGMA synchronous").fetchone()[0]
        cursor.execute("PRAGMA synchronous = OFF")
        try:
            with connection.constraint_checks_disabled():
                yield
        finally:
            cursor.execute(f"PRAGMA synchronous = {standing}")


def plain(value: Any) -> Value:
    """``value`` as both databases take it for its column."""
    if isinstance(value, datetime):
        text = value.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S.%f")
        return text if connection.vendor == "sqlite" else f"{text}+00"
    if isinstance(value, dict | list):
        return json.dumps(value)
    if isinstance(value, UUID):
        return value.hex
    if isinstance(value, date):
        return value.isoformat()
    if value is None or isinstance(value, bool | int):
        return value
    return str(value)


def keys_go_on_after(written: Iterable[type[models.Model]]) -> None:
    """Let the database's own counters go on after the keys that were given out here."""
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), list(written)):
            cursor.execute(statement)
