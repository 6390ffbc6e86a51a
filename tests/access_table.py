"""Every page and API operation: who gets what, and that its queries do not grow with its rows.

The rows stand in ``tests/<package>/access_rows.py`` as ``ROWS: dict[str, Row | list[Row]]``, keyed by URL name
(``fleet:site``, ``account_login``). A URL pattern without a row fails the suite; so does a row without a URL, and a
class-based view or API operation with a method that no row names.
"""

import dataclasses
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from typing import Any

from django.urls import URLPattern, URLResolver, get_resolver
from django.views.generic.edit import ProcessFormView

from tests.world import ROLES, World

PACKAGES = ("fleet", "onboarding", "api", "accounts")
Arguments = Callable[[World], dict[str, Any]]


def no_arguments(_world: World) -> dict[str, Any]:
    """For a URL that takes none."""
    return {}


@dataclass(frozen=True, kw_only=True)
class Row:
    """What each role is answered (HTTP status) when it asks for a URL with ``method``.

    ``path`` gives the URL's arguments, ``data`` what is sent (a form, or JSON where ``json``), ``query`` the query
    string. ``reader`` is the role whose GET is counted at 3 and 30 rows; None where nothing is read, with ``why``.
    ``shared`` says that the URL's object is not one company's (a token link), so that others need not get 404.
    """

    administrator: int
    office: int
    field: int
    unassigned: int
    owner: int
    other_owner: int
    outsider: int
    foreign: int
    anonymous: int
    method: str = "get"
    path: Arguments = no_arguments
    data: Arguments = no_arguments
    query: Arguments = no_arguments
    json: bool = False
    reader: str | None = "administrator"
    why: str = ""
    shared: bool = False
    headers: dict[str, str] = dataclasses.field(default_factory=dict)

    def expected(self) -> dict[str, int]:
        """The status by role."""
        return {role: getattr(self, role) for role in ROLES}


def staff_object(
    status: int = 200, *, office: int | None = None, field: int | None = None, anonymous: int = 302, **more: Any
) -> Row:
    """A page about one object of our company: staff get ``status``, everybody else 404, strangers the sign-in."""
    return Row(
        administrator=status,
        office=status if office is None else office,
        field=status if field is None else field,
        **({"unassigned": 404, "owner": 404, "other_owner": 404, "outsider": 404, "foreign": 404} | more),
        anonymous=anonymous,
    )


def staff_page(
    status: int = 200, *, office: int | None = None, field: int | None = None, anonymous: int = 302, **more: Any
) -> Row:
    """A page of the company as a whole: every company's staff get their own, owners and outsiders 404."""
    at_field = status if field is None else field
    return Row(
        administrator=status,
        office=status if office is None else office,
        field=at_field,
        **({"unassigned": at_field, "owner": 404, "other_owner": 404, "outsider": 404, "foreign": status} | more),
        anonymous=anonymous,
    )


def anybody(status: int = 200, **more: Any) -> Row:
    """The same answer for everybody; roles that differ are named."""
    return Row(**(dict.fromkeys(ROLES, status) | more))


def signed_in(status: int = 200, *, anonymous: int = 302, **more: Any) -> Row:
    """The same answer for everybody who is signed in."""
    return Row(**(dict.fromkeys(ROLES, status) | {"anonymous": anonymous} | more))


@dataclass(frozen=True)
class KnownUrl:
    """One URL pattern: its full name, how it is written, and the methods its view says it takes (if it says)."""

    name: str
    route: str
    methods: frozenset[str]


def known_urls() -> list[KnownUrl]:
    """Every URL pattern of the house, in the order of the URL configuration."""
    return list(_walk(get_resolver().url_patterns, "", ""))


def all_rows() -> dict[str, list[Row]]:
    """The rows of every package, by URL name."""
    found: dict[str, list[Row]] = {}
    for package in PACKAGES:
        name = f"tests.{package}.access_rows"
        if find_spec(f"tests.{package}") is None or find_spec(name) is None:
            continue
        for url_name, rows in import_module(name).ROWS.items():
            if url_name in found:
                raise ValueError(f"{url_name} has rows in two packages")
            found[url_name] = rows if isinstance(rows, list) else [rows]
    return found


def _walk(patterns: list[URLPattern | URLResolver], namespace: str, route: str) -> Iterator[KnownUrl]:
    for pattern in patterns:
        written = route + _written(pattern.pattern)
        if isinstance(pattern, URLResolver):
            inner = f"{namespace}{pattern.namespace}:" if pattern.namespace else namespace
            yield from _walk(pattern.url_patterns, inner, written)
        else:
            yield KnownUrl(f"{namespace}{pattern.name or '(no name) ' + written}", written, _methods(pattern))


def _written(pattern: Any) -> str:
    return str(getattr(pattern, "_route", "") or getattr(pattern, "_regex", "") or pattern)


def _methods(pattern: URLPattern) -> frozenset[str]:
    """The methods that a class-based view or an API view implements; empty for a function, which does not say."""
    callback: Any = pattern.callback
    if actions := getattr(callback, "actions", None):  # a viewset, bound to a route
        return frozenset(actions) - {"head", "options"}
    view = getattr(callback, "view_class", None) or getattr(callback, "cls", None)
    if view is None or not getattr(view, "http_method_names", None):
        return frozenset()
    offered = {name for name in view.http_method_names if callable(getattr(view, name, None))}
    if getattr(view, "put", None) is ProcessFormView.put:
        offered -= {"put"}  # Django's form views answer PUT as POST
    return frozenset(offered - {"head", "options", "trace"})
