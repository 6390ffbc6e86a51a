"""The list of sites."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from fleet.labels.sitecode import parse_site_code
from fleet.models import Member, Stage
from fleet.queries.site_list import SiteFilters, count_by_stage, listed_sites
from fleet.views.staff import staff_page


@require_safe
@staff_page
def sites(request: HttpRequest, member: Member) -> HttpResponse:
    """Sites, newest first, narrowed by filters; pages by cursor."""
    filters = _filters(request)
    page = listed_sites(
        member,
        filters,
        newer_than=_code(request.GET.get("newer", "")),
        older_than=_code(request.GET.get("older", "")),
    )
    here = reverse("fleet:sites")
    return render(
        request,
        "fleet/sites.html",
        {
            "rows": page.rows,
            "filters": filters,
            "stages": _stages(member, filters),
            "newer_url": here + filters.query(newer=page.newer) if page.newer else "",
            "older_url": here + filters.query(older=page.older) if page.older else "",
        },
    )


def _filters(request: HttpRequest) -> SiteFilters:
    stage = request.GET.get("stage", "")
    return SiteFilters(
        stage=stage if stage in Stage.values else "",
        move=request.GET.get("move", "")[:40],
        invitation=request.GET.get("invitation", "")[:12],
    )


def _code(text: str) -> str:
    return parse_site_code(text) or ""


def _stages(member: Member, filters: SiteFilters) -> list[dict[str, Any]]:
    counts = count_by_stage(member, filters)
    rest = filters.without("stage")
    here = reverse("fleet:sites")
    every = {"word": "", "number": sum(counts.values()), "url": here + rest.query(), "chosen": not filters.stage}
    return [every] + [
        {
            "word": stage.label,
            "number": counts[stage],
            "url": here + rest.query(stage=stage),
            "chosen": filters.stage == stage,
        }
        for stage in Stage
    ]
