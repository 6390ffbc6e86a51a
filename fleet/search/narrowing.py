"""Filters as conditions on sites."""

from __future__ import annotations

from django.db.models import QuerySet

from fleet.models import Member, Site
from fleet.search.filters import SiteFilters


def narrowed(sites: QuerySet[Site], member: Member, filters: SiteFilters) -> QuerySet[Site]:
    """``sites`` without those that the filters leave out."""
    if filters.stage:
        sites = sites.filter(stage__in=filters.stage)
    return sites
