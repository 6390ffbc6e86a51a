"""Finding sites: one page of what a member's text and filters mean."""

from __future__ import annotations

from fleet.models import Member, SiteSummary
from fleet.queries.visibility import visible_sites
from fleet.search.filters import SiteFilters
from fleet.search.fold import fold
from fleet.search.results import SiteResults, SiteRow

PAGE = 25


def find_sites(
    *, member: Member, text: str, filters: SiteFilters | None = None, limit: int = PAGE, offset: int = 0
) -> SiteResults:
    """The sites that ``member`` may see and that ``text`` and ``filters`` mean, best first."""
    sites = visible_sites(member).order_by("-id")
    for word in fold(text).split():
        sites = sites.filter(street__icontains=word)
    page = list(sites.select_related("summary")[offset : offset + limit])
    rows = []
    for site in page:
        summary = getattr(site, "summary", None) or SiteSummary()
        rows.append(
            SiteRow(
                site_id=site.pk,
                code=site.code,
                name=site.name,
                address_line=site.address_line,
                town=site.town,
                stage=site.stage,
                owner_names=summary.owner_names,
                invitation_state=summary.invitation_state,
                missing_permissions=summary.missing_permissions,
                device_count=summary.device_count,
                next_move=summary.next_move,
            )
        )
    return SiteResults(rows=rows, total=sites.count(), total_capped=False)
