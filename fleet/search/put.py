"""Writing rows that may be there already, where they differ: one statement, no read before it."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import connection
from django.db.models import Model

from fleet.search.statements import Statement


def put_rows(model: type[Model], rows: Sequence[Model]) -> Statement:
    """Insert ``rows`` by their keys; of those there already, rewrite the ones that differ.

    For models of plain columns without nulls.
    """
    fields = model._meta.concrete_fields
    key = model._meta.pk.column
    columns = [field.column for field in fields]
    others = [column for column in columns if column != key]
    marks = ", ".join([f"({', '.join(['%s'] * len(columns))})"] * len(rows))
    return Statement(
        f"INSERT INTO {model._meta.db_table} AS kept ({', '.join(columns)}) VALUES {marks} "
        f"ON CONFLICT ({key}) DO UPDATE SET "
        + ", ".join(f"{column} = excluded.{column}" for column in others)
        + " WHERE "
        + " OR ".join(f"kept.{column} <> excluded.{column}" for column in others),
        [field.get_db_prep_save(getattr(row, field.attname), connection) for row in rows for field in fields],
    )
