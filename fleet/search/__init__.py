"""Finding any site from any scrap."""

from collections.abc import Iterable

from django.conf import settings
from django.utils.module_loading import import_string

from fleet.models import Placement, Site, SiteSummary
from fleet.search.filters import SiteFilters
from fleet.search.query import find_sites
from fleet.search.results import Match, SiteResults, SiteRow
from fleet.search.words import Field, Shape, Word

__all__ = ["Field", "Match", "Shape", "SiteFilters", "SiteResults", "SiteRow", "Word", "find_sites", "reindex"]


def reindex(site_ids: Iterable[int]) -> None:
    """Write what lists and searches read of these sites; called in the transaction of each change."""
    ids = list(site_ids)
    facts: dict[int, dict[str, str]] = {site_id: {} for site_id in ids}
    for source in settings.SUMMARY_SOURCES:
        for site_id, found in import_string(source)(ids).items():
            facts[site_id].update(found)
    for site in Site.objects.filter(pk__in=ids):
        SiteSummary.objects.update_or_create(
            site=site,
            defaults={
                "company_id": site.company_id,
                "device_count": Placement.objects.filter(site=site, until__isnull=True).count(),
                **facts[site.pk],
            },
        )
