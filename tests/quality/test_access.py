"""The table of every page and operation holds, and no page's queries grow with its rows."""

from collections import defaultdict
from collections.abc import Iterator
from typing import Any

import pytest
from django.core.cache import cache
from django.db import connection, reset_queries, transaction
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pytest_django import DjangoDbBlocker

from tests.access_table import Row, all_rows, known_urls
from tests.world import ROLES, World

URLS = known_urls()
ROWS = all_rows()
CASES = [(name, row) for name, rows in ROWS.items() for row in rows]
NAMES = [f"{row.method} {name}" for name, row in CASES]
COUNTED = [(name, row) for name, row in CASES if row.method == "get" and row.reader]


def test_every_url_has_a_row_and_every_row_a_url():
    urls = {url.name for url in URLS}
    assert sorted(urls - set(ROWS)) == [], "URLs without a row in tests/<package>/access_rows.py"
    assert sorted(set(ROWS) - urls) == [], "rows whose URL is gone"


def test_every_method_that_a_view_offers_has_a_row():
    offered: defaultdict[str, set[str]] = defaultdict(set)
    for url in URLS:
        offered[url.name] |= url.methods
    missing = {
        name: sorted(methods - {row.method for row in ROWS.get(name, [])}) for name, methods in sorted(offered.items())
    }
    assert {name: methods for name, methods in missing.items() if methods} == {}


def test_an_object_of_ours_is_not_there_for_others():
    loose = [
        f"{row.method} {name}"
        for name, row in CASES
        if row.path.__name__ != "no_arguments" and not row.shared and row.foreign not in (404, 405)
    ]
    assert loose == [], "rows about one company's object that another company does not get 404 for"


def test_a_page_that_is_not_counted_says_why():
    assert [name for name, row in CASES if row.method == "get" and row.reader is None and not row.why] == []


@pytest.fixture(scope="module")
def world(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[World]:
    """One world for the whole table; every request is undone, and the world itself at the end."""
    with django_db_blocker.unblock(), transaction.atomic():
        yield World()
        transaction.set_rollback(True)


@pytest.fixture(scope="module")
def world_of_three(world: World) -> dict[str, list[str]]:
    """The queries of each page with 3 rows of everything; afterwards there are 30."""
    world.grow(2)
    counted = {}
    for name, row in COUNTED:
        try:
            counted[name] = _queries(name, row, world)
        except Exception as error:  # this page's own test says so, the others' go on
            counted[name] = [repr(error)]
    world.grow(27)
    return counted


@pytest.mark.django_db
@pytest.mark.parametrize(("name", "row"), CASES, ids=NAMES)
def test_each_role_gets_what_the_table_says(world: World, name: str, row: Row):
    given = {role: _asked_as(role, name, row, world)[0] for role in ROLES}
    assert given == row.expected()


@pytest.mark.django_db
@pytest.mark.parametrize(("name", "row"), COUNTED, ids=[name for name, _ in COUNTED])
def test_queries_do_not_grow_with_rows(world: World, world_of_three: dict[str, list[str]], name: str, row: Row):
    few, many = world_of_three[name], _queries(name, row, world)
    assert len(many) == len(few), "\n".join(many[:60])


def _queries(name: str, row: Row, world: World) -> list[str]:
    """The SQL of the second of two equal requests: what is only looked up once is looked up by the first."""
    _asked_as(row.reader or "", name, row, world)
    return _asked_as(row.reader or "", name, row, world)[1]


def _asked_as(role: str, name: str, row: Row, world: World) -> tuple[int, list[str]]:
    """The status and the SQL of one request, of which nothing stays."""
    cache.clear()
    reset_queries()  # Django keeps the last 9,000 only
    with transaction.atomic():
        client = world.client_of(role)
        with CaptureQueriesContext(connection) as captured:
            status = _ask(client, name, row, world)
        transaction.set_rollback(True)
    return status, [query["sql"][:300] for query in captured.captured_queries]


def _ask(client: Client, name: str, row: Row, world: World) -> int:
    url = reverse(name, kwargs=row.path(world))
    more: dict[str, Any] = {"headers": row.headers}
    if row.query(world):
        more["query_params"] = row.query(world)
    if row.json:
        more["content_type"] = "application/json"
    if row.method not in ("get", "head"):
        more["data"] = row.data(world)
    answer = getattr(client, row.method)(url, **more)
    if answer.streaming:
        b"".join(answer.streaming_content)
    return int(answer.status_code)
