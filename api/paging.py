"""Cursor pagination: an opaque ``cursor`` that names the last row seen, or a capped offset where rank orders."""

import base64
import binascii
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from django.core.exceptions import ValidationError as DjangoValidationError
from django.db.models import Model, QuerySet
from django.utils.translation import gettext as _
from rest_framework.request import Request

from api.problems import Unprocessable

Row = TypeVar("Row", bound=Model)
FARTHEST_OFFSET = 500


@dataclass(frozen=True)
class Page(Generic[Row]):
    """Some rows, and the cursor of the next page, or None at the end."""

    rows: Sequence[Row]
    next_cursor: str | None

    def document(self, request: Request, represent: Callable[[Row], Any]) -> dict[str, Any]:
        """``{"results": […], "next": URL or null}``."""
        return {
            "results": [represent(row) for row in self.rows],
            "next": _next_url(request, self.next_cursor) if self.next_cursor else None,
        }


def page_by_key(rows: QuerySet[Row], *, key: str, cursor: str | None, limit: int) -> Page[Row]:
    """A page of ``rows``, newest first; the cursor holds the last row's public ``key``. Raises Unprocessable."""
    if cursor is not None:
        rows = rows.filter(pk__lt=_row_at(rows, key, _opened(cursor, "k")))
    found = list(rows.order_by("-pk")[: limit + 1])
    more = len(found) > limit
    last = str(getattr(found[limit - 1], key)) if more else ""
    return Page(found[:limit], _closed("k", last) if more else None)


def offset_of(cursor: str | None) -> int:
    """The offset that a ranked list's cursor holds; raises Unprocessable on any other cursor."""
    if cursor is None:
        return 0
    text = _opened(cursor, "o")
    if not text.isascii() or not text.isdigit() or int(text[:6]) > FARTHEST_OFFSET:
        raise _bad_cursor()
    return int(text)


def ranked_page(found: Sequence[Row], *, offset: int, limit: int) -> Page[Row]:
    """A page of a ranked list, of which ``limit + 1`` rows from ``offset`` were asked for; ends at a capped offset."""
    more = len(found) > limit and offset + limit <= FARTHEST_OFFSET
    return Page(found[:limit], _closed("o", str(offset + limit)) if more else None)


def _row_at(rows: QuerySet[Row], key: str, value: str) -> int:
    try:
        place = rows.model._default_manager.filter(**{key: value}, pk__in=rows.values("pk")).values_list("pk").first()
    except (ValueError, TypeError, DjangoValidationError):
        place = None
    if place is None:
        raise _bad_cursor()
    return int(place[0])


def _closed(kind: str, value: str) -> str:
    return base64.urlsafe_b64encode(f"{kind}{value}".encode()).decode().rstrip("=")


def _opened(cursor: str, kind: str) -> str:
    try:
        text = base64.urlsafe_b64decode(cursor.encode() + b"=" * (-len(cursor) % 4)).decode("ascii")
    except (binascii.Error, ValueError) as error:
        raise _bad_cursor() from error
    if not text.startswith(kind) or "\x00" in text:
        raise _bad_cursor()
    return text[1:]


def _bad_cursor() -> Unprocessable:
    return Unprocessable(
        _("This cursor is not one of ours, or its row is gone. Start the list again without it."), "bad_cursor"
    )


def _next_url(request: Request, cursor: str) -> str:
    query = request.query_params.copy()
    query["cursor"] = cursor
    return f"{request.path}?{query.urlencode()}"
