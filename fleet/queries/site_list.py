"""The list of sites: filters, counts, and pages by cursor."""

from dataclasses import dataclass, replace
from urllib.parse import urlencode

from django.db.models import Count, QuerySet

from fleet.models import Member, Site, Stage
from fleet.queries.visibility import visible_sites

PAGE = 25


@dataclass(frozen=True, slots=True)
class SiteFilters:
    """What narrows the list; empty means all."""

    stage: str = ""
    move: str = ""
    invitation: str = ""

    def narrow(self, sites: QuerySet[Site]) -> QuerySet[Site]:
        """Only the sites that these filters let through."""
        wanted = {"stage": self.stage, "summary__next_move": self.move, "summary__invitation_state": self.invitation}
        return sites.filter(**{column: value for column, value in wanted.items() if value})

    def query(self, **more: str) -> str:
        """These filters and ``more`` as the query part of an address, with its question mark."""
        words = {"stage": self.stage, "move": self.move, "invitation": self.invitation, **more}
        text = urlencode({name: value for name, value in words.items() if value})
        return f"?{text}" if text else ""

    def without(self, *names: str) -> "SiteFilters":
        """These filters, some of them lifted."""
        return replace(self, **dict.fromkeys(names, ""))


@dataclass(frozen=True, slots=True)
class SitePage:
    """One page of the list, newest registered first; the cursors are site codes, empty where nothing follows."""

    rows: list[Site]
    newer: str = ""
    older: str = ""


def listed_sites(member: Member, filters: SiteFilters, *, newer_than: str = "", older_than: str = "") -> SitePage:
    """The page of the list that starts after a site (by code), towards older or newer ones."""
    sites = filters.narrow(visible_sites(member)).select_related("summary")
    if newer_than and (start := _place_of(member, newer_than)):
        rows = list(sites.filter(pk__gt=start).order_by("pk")[: PAGE + 1])
        more, rows = len(rows) > PAGE, rows[:PAGE][::-1]
        return SitePage(rows, newer=rows[0].code if more else "", older=rows[-1].code if rows else "")
    start = _place_of(member, older_than) if older_than else None
    if start:
        sites = sites.filter(pk__lt=start)
    rows = list(sites.order_by("-pk")[: PAGE + 1])
    more, rows = len(rows) > PAGE, rows[:PAGE]
    return SitePage(rows, newer=rows[0].code if start and rows else "", older=rows[-1].code if more else "")


def count_by_stage(member: Member, filters: SiteFilters) -> dict[str, int]:
    """How many sites stand in each stage, the other filters applied."""
    sites = filters.without("stage").narrow(visible_sites(member))
    found = dict(sites.order_by().values_list("stage").annotate(number=Count("pk")))
    return {stage: found.get(stage, 0) for stage in Stage.values}


def _place_of(member: Member, code: str) -> int | None:
    return Site.objects.filter(company_id=member.company_id, code=code).values_list("pk", flat=True).first()
