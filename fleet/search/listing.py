"""The list of sites without a text: newest registered first or by a column, pages by cursor, as deep as it goes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from django.db.models import Q, QuerySet

from fleet.models import Member, Site
from fleet.search.counting import count_sites
from fleet.search.filters import NO_FILTERS, SiteFilters
from fleet.search.hits import Hit
from fleet.search.narrowing import narrowed
from fleet.search.query import searched_sites
from fleet.search.results import SiteRow
from fleet.search.rows import site_rows

PAGE = 25


@dataclass(frozen=True, slots=True)
class Order:
    """Columns to go by, each with an index behind the company's, and whether from the greatest down."""

    columns: tuple[str, ...] = ()
    down: bool = True

    def by(self, *, backwards: bool = False) -> list[str]:
        """For ``order_by``; the key settles what the columns leave open."""
        sign = "-" if self.down != backwards else ""
        return [f"{sign}{column}" for column in (*self.columns, "pk")]

    def beyond(self, place: Sequence[object], *, backwards: bool = False) -> Q:
        """What comes after a place, which is a value for each column and the key."""
        than = "lt" if self.down != backwards else "gt"
        columns = (*self.columns, "pk")
        condition = Q()
        for number, column in enumerate(columns):
            equal = dict(zip(columns[:number], place[:number], strict=True))
            condition |= Q(**equal, **{f"{column}__{than}": place[number]})
        # Said once more for the first column, so that an index is entered at the place.
        return Q(**{f"{columns[0]}__{than}e": place[0]}) & condition


COLUMNS = {
    "address": ("summary__address_key",),
    "owner": ("summary__owner_key",),
    "kwp": ("summary__pv_watts",),
    "storage": ("summary__storage_wh",),
    "devices": ("summary__device_count",),
    "stage": ("summary__stage_since",),
    "move": ("summary__next_move", "summary__move_since"),
}
NEWEST = Order()


def order_named(name: str) -> Order:
    """The order by a column's name, with a dash in front from the greatest down; any other name is the newest first."""
    columns = COLUMNS.get(name.removeprefix("-"))
    return Order(columns, name.startswith("-")) if columns else NEWEST


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteList:
    """One page of the list. Its cursors are site codes, empty where nothing follows in that direction.

    ``total`` is exact unless ``total_capped``: then there are more than ``total``.
    """

    rows: list[SiteRow] = field(default_factory=list)
    total: int = 0
    total_capped: bool = False
    newer: str = ""
    older: str = ""

    @property
    def surely_more(self) -> bool:
        """Whether there are more than were counted: the list knows."""
        return self.total_capped


def list_sites(
    *, member: Member, filters: SiteFilters = NO_FILTERS, order: Order = NEWEST, newer_than: str = "",
    older_than: str = "",
) -> SiteList:  # fmt: skip
    """The page of the visible sites that starts after a site (by its eight symbols), towards the end or the start.

    A cursor that is no site of the company begins at the start.
    """
    sites = narrowed(searched_sites(member), member, filters, from_rows=True)
    if order.columns:
        sites = sites.filter(summary__company_id=member.company_id)
    place = _place_of(member, newer_than or older_than, order)
    back = bool(place and newer_than)
    found = _first(sites, order, place, backwards=back)
    more = len(found) > PAGE
    found = found[:PAGE][::-1] if back else found[:PAGE]
    before, after = (more, True) if back else (place is not None, more)
    total, capped = count_sites(member, filters)
    return SiteList(
        rows=site_rows(member.company_id, [Hit(key, 0, False) for key, _code in found], ()),
        total=total,
        total_capped=capped,
        newer=found[0][1] if found and before else "",
        older=found[-1][1] if found and after else "",
    )


def _first(
    sites: QuerySet[Site], order: Order, place: Sequence[object] | None, *, backwards: bool
) -> list[tuple[int, str]]:
    begun = sites.filter(order.beyond(place, backwards=backwards)) if place else sites
    return list(begun.order_by(*order.by(backwards=backwards)).values_list("pk", "code")[: PAGE + 1])


def _place_of(member: Member, code: str, order: Order) -> Sequence[object] | None:
    if not code:
        return None
    return Site.objects.filter(company_id=member.company_id, code=code).values_list(*order.columns, "pk").first()
