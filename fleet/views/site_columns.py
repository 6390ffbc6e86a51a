"""The columns of the list of sites: which there are, which a member chose, and how the list is sorted by them."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from fleet.models import Member
from fleet.search import SiteFilters
from fleet.search.listing import COLUMNS as SORTED_BY
from fleet.search.listing import NEWEST, order_named
from fleet.views.site_filters import with_query

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its heading, what stands under that, and what the list begins with when it is sorted by it."""

    name: str
    heading: "StrOrPromise"
    under: "StrOrPromise" = ""
    is_number: bool = False
    rising: "StrOrPromise" = ""
    falling: "StrOrPromise" = ""


COLUMNS = (
    Column("code", _("Code")),
    Column("address", _("Address"), rising=_("by street, A to Z"), falling=_("by street, Z to A")),
    Column("owner", _("Owner"), rising=_("by owner, A to Z"), falling=_("by owner, Z to A")),
    Column("kwp", _("kWp"), is_number=True, rising=_("smallest PV first"), falling=_("largest PV first")),
    Column(
        "storage",
        _("Storage"),
        _("kWh"),
        is_number=True,
        rising=_("smallest storage first"),
        falling=_("largest storage first"),
    ),
    Column("devices", _("Devices"), is_number=True, rising=_("fewest devices first"), falling=_("most devices first")),
    Column(
        "stage", _("Stage since"), rising=_("longest in their stage first"), falling=_("newest in their stage first")
    ),
    Column(
        "move", _("Next move"), _("whose"), rising=_("by next move, longest waiting first"), falling=_("by next move")
    ),
)
ALWAYS = "address"


@dataclass(frozen=True, slots=True)
class Head:
    """A column on a page: ``url`` sorts by it, empty where that cannot be; ``sorted`` is the way it is sorted now."""

    column: Column
    url: str = ""
    sorted: str = ""


def chosen_columns(member: Member) -> list[Column]:
    """The columns that a member's list has; all of them until they choose."""
    names = set(member.site_columns.split()) | {ALWAYS}
    return [column for column in COLUMNS if column.name in names] if member.site_columns else list(COLUMNS)


def heads(member: Member, filters: SiteFilters, text: str, sort: str) -> list[Head]:
    """The heads of a member's list. What a text found stays in its own order, the best first."""
    return [Head(column) if text else _head(column, filters, sort) for column in chosen_columns(member)]


def order_words(text: str, sort: str) -> "StrOrPromise":
    """What the list begins with."""
    if text:
        return _("what fits best first")
    if order_named(sort) == NEWEST:
        return _("newest registered first")
    column = next(each for each in COLUMNS if each.name == sort.removeprefix("-"))
    return column.falling if sort.startswith("-") else column.rising


def _head(column: Column, filters: SiteFilters, sort: str) -> Head:
    if column.name not in SORTED_BY:
        return Head(column)
    rising, falling = column.name, f"-{column.name}"
    first, then = (falling, rising) if column.is_number else (rising, falling)
    url = with_query(reverse("fleet:sites"), filters, sort=then if sort == first else first)
    return Head(column, url, {rising: "ascending", falling: "descending"}.get(sort, ""))
