"""Indexing very many new sites at once: for making a fleet, not for a house at work.

Token rows are gathered, sorted and written in the order of their key, very many at a time; site by site, a million
sites would take hours.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from django.conf import settings
from django.db import connection, transaction
from django.db.models import DateTimeField, Field, Model
from django.utils.module_loading import import_string

from fleet.models import SearchDocument, Site, SiteSummary
from fleet.search.document import document_of
from fleet.search.marks import Marks
from fleet.search.reindex import document_row, learn_words
from fleet.search.sources import read_sites
from fleet.search.statements import Statement
from fleet.search.summary import summary_of
from fleet.search.tables import DOCUMENT_WORDS, TOKENS, index_tables

CHUNK = 5_000
GATHERED = 3_000_000
"""Token rows held at a time: some 400 MB."""
Row = tuple[int, str, int]


@contextmanager
def without_marks() -> Iterator[None]:
    """Take the marking triggers away while rows are written that :func:`index_new_sites` will index."""
    marks = [each for name in settings.DATABASE_GUARDS for each in import_string(name)() if isinstance(each, Marks)]
    with connection.cursor() as cursor:
        for each in marks:
            for statement in each.removal(connection.vendor):
                cursor.execute(statement)
    try:
        yield
    finally:
        with connection.cursor() as cursor:
            for each in marks:
                for statement in each.statements(connection.vendor):
                    cursor.execute(statement)


def index_new_sites(after: int = 0, tell: Callable[[int], None] = lambda done: None) -> int:
    """Index every site with a key above ``after``; none of them may be indexed yet. Answers how many there were.

    Cut short, it leaves sites unindexed, which ``rebuild_search`` mends.
    """
    with _without_index_of_words():
        done = _index_after(after, tell)
    _settle()
    return done


@contextmanager
def _without_index_of_words() -> Iterator[None]:
    """Of very many new documents it is made sooner at the end."""
    [tables] = index_tables()
    if connection.vendor == "postgresql":
        Statement(f"DROP INDEX IF EXISTS {DOCUMENT_WORDS}", []).run()
    try:
        yield
    finally:
        for statement in tables.statements(connection.vendor):
            Statement(statement, []).run()


def _index_after(after: int, tell: Callable[[int], None]) -> int:
    done = 0
    rows: list[Row] = []
    words: dict[int, set[str]] = {}
    while companies := _next(after):
        with transaction.atomic():
            rows += _documents(companies, words)
            if len(rows) > GATHERED:
                _write_tokens(rows)
                rows = []
        after = max(companies)
        done += len(companies)
        tell(done)
    with transaction.atomic():
        _write_tokens(rows)
        for company_id, heard in words.items():
            learn_words([(company_id, "w" + word, 0) for word in heard])
    return done


def _write_tokens(rows: list[Row]) -> None:
    rows.sort()
    _write_rows(TOKENS, ("company_id", "token", "site_id"), rows)


def _settle() -> None:
    """On PostgreSQL: statistics of all that was loaded, and the visibility map that scans of the index alone need."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
            if not connection.in_atomic_block:
                cursor.execute(f"VACUUM {TOKENS}")


def _next(after: int) -> dict[int, int]:
    return dict(Site.objects.filter(pk__gt=after).order_by("pk").values_list("pk", "company_id")[:CHUNK])


def _documents(companies: dict[int, int], words: dict[int, set[str]]) -> list[Row]:
    read = read_sites(list(companies))
    rows: list[Row] = []
    documents = []
    for site_id, company_id in companies.items():
        document = document_of(read[site_id])
        tokens = document.tokens | document.past_tokens
        rows += [(company_id, token, site_id) for token in tokens]
        words.setdefault(company_id, set()).update(token[1:].rstrip("!") for token in tokens if token[0] == "w")
        documents.append(document_row(site_id, company_id, document))
    _insert(SearchDocument, documents)
    _insert(SiteSummary, [summary_of(site_id, company, read[site_id]) for site_id, company in companies.items()])
    return rows


def _insert(model: type[Model], instances: Sequence[Model]) -> None:
    """Plain rows: the checks and conversions of a bulk insert cost several times as much as the rows."""
    fields = model._meta.concrete_fields
    moments = {field.attname for field in fields if isinstance(field, DateTimeField)}
    adapted = connection.ops.adapt_datetimefield_value
    rows = [
        tuple(adapted(value) if name in moments else value for name, value in _columns(instance, fields))
        for instance in instances
    ]
    _write_rows(model._meta.db_table, [field.column for field in fields], rows)


def _columns(instance: Model, fields: Sequence[Field[Any, Any]]) -> list[tuple[str, Any]]:
    return [(field.attname, getattr(instance, field.attname)) for field in fields]


def _write_rows(table: str, columns: Sequence[str], rows: Sequence[tuple[Any, ...]]) -> None:
    names = ", ".join(columns)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
        else:
            cursor.executemany(f"INSERT INTO {table} ({names}) VALUES ({', '.join(['%s'] * len(columns))})", rows)
