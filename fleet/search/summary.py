"""The summary rows that lists and filters read, written together with the index."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import cast

from django.conf import settings
from django.db.models import CharField, Count
from django.utils.module_loading import import_string

from fleet.models import Placement, SiteSummary
from fleet.search.put import put_rows

SummarySource = Callable[[list[int]], dict[int, dict[str, str]]]
FACTS = ("owner_names", "invitation_state", "missing_permissions", "next_move")


@cache
def _sources(names: tuple[str, ...]) -> list[SummarySource]:
    return [import_string(name) for name in names]


def write_summaries(companies: dict[int, int]) -> None:
    """Bring the summaries of these sites (site to company) up to date; unchanged ones are left alone."""
    put_rows(SiteSummary, list(summaries_of(companies).values()))


def summaries_of(companies: dict[int, int]) -> dict[int, SiteSummary]:
    """The summaries that these sites should have."""
    ids = list(companies)
    facts: dict[int, dict[str, str]] = {site_id: {} for site_id in ids}
    for source in _sources(tuple(settings.SUMMARY_SOURCES)):
        for site_id, found in source(ids).items():
            facts[site_id].update(found)
    counts = dict(Placement.objects.filter(site__in=ids, until__isnull=True).values_list("site").annotate(Count("pk")))
    return {
        site_id: SiteSummary(
            site_id=site_id,
            company_id=company_id,
            device_count=counts.get(site_id, 0),
            **{name: _cut(name, facts[site_id].get(name, "")) for name in FACTS},
        )
        for site_id, company_id in companies.items()
    }


def same_summary(one: SiteSummary | None, other: SiteSummary) -> bool:
    """Whether two summaries say the same; no summary says nothing like it."""
    return _values(one) == _values(other)


def _values(summary: SiteSummary | None) -> tuple[object, ...] | None:
    if summary is None:
        return None
    return (summary.company_id, summary.device_count, *(getattr(summary, name) for name in FACTS))


def _cut(name: str, text: str) -> str:
    longest = cast("CharField[str, str]", SiteSummary._meta.get_field(name)).max_length or 0
    return text if len(text) <= longest else text[: longest - 1] + "…"
