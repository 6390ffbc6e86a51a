"""The list of sites without a text: newest registered first, pages by cursor, as deep as it goes."""

from __future__ import annotations

from dataclasses import dataclass, field

from fleet.models import Member, Site
from fleet.search.counting import count_sites
from fleet.search.filters import NO_FILTERS, SiteFilters
from fleet.search.hits import Hit
from fleet.search.narrowing import narrowed
from fleet.search.query import searched_sites
from fleet.search.results import SiteRow
from fleet.search.rows import site_rows

PAGE = 25


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteList:
    """One page of the list. Its cursors are site codes, empty where nothing follows in that direction.

    ``total`` is exact unless ``total_capped``: then filters leave more than ``total``.
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
    *, member: Member, filters: SiteFilters = NO_FILTERS, newer_than: str = "", older_than: str = ""
) -> SiteList:
    """The page of the visible sites that starts after a site (by its eight symbols), towards newer or older ones.

    A cursor that is no site of the company begins at the newest.
    """
    sites = narrowed(searched_sites(member), member, filters, from_rows=True).order_by("-pk")
    start = _place_of(member, newer_than or older_than)
    total, capped = count_sites(member, filters)
    if start and newer_than:
        found = list(sites.filter(pk__gt=start).order_by("pk").values_list("pk", "code")[: PAGE + 1])
        more_newer, more_older = len(found) > PAGE, True
        found = found[:PAGE][::-1]
    else:
        begun = sites.filter(pk__lt=start) if start else sites
        found = list(begun.values_list("pk", "code")[: PAGE + 1])
        more_newer, more_older = start is not None, len(found) > PAGE
        found = found[:PAGE]
    return SiteList(
        rows=site_rows(member.company_id, [Hit(key, 0, False) for key, _code in found], ()),
        total=total,
        total_capped=capped,
        newer=found[0][1] if found and more_newer else "",
        older=found[-1][1] if found and more_older else "",
    )


def _place_of(member: Member, code: str) -> int | None:
    if not code:
        return None
    return Site.objects.filter(company_id=member.company_id, code=code).values_list("pk", flat=True).first()
