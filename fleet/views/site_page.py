"""A site's page, its plate, and what is done to the site as a whole."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.models import HandoverCheck, Member, Site, Stage
from fleet.moments import read_moment
from fleet.operations.permissions import Act, may
from fleet.operations.plates import print_plate
from fleet.operations.site_stages import may_take_back, retire_site
from fleet.operations.sites import tag_site
from fleet.queries.handovers import last_handover
from fleet.queries.plates import plate_of
from fleet.queries.site_page import SiteRecord, assignable_members, site_record
from fleet.queries.site_years import years_of
from fleet.views.panels import Panel, panels_of
from fleet.views.paths import site_or_404
from fleet.views.plate import plate_svg
from fleet.views.staff import one_act, staff_page

LAST_OF_THE_LEFT_COLUMN = 39


@require_safe
@staff_page
def site_page(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """What stands there, who owns it, what they allowed, what is still to do; the years below."""
    site = site_or_404(member, code)
    record = site_record(site)
    context = {
        "site": site,
        "record": record,
        "years": years_of(site, before=read_moment(request.GET.get("before", ""))),
        "retired": site.stage == Stage.RETIRED,
        "may": _permitted(member),
        "findings": HandoverCheck.Finding,
        **_handover(member, site),
        **_columns(_own_panels(member, record) + panels_of(request, site)),
    }
    return render(request, "fleet/site.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def plate(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """The plate to print and fix at the site; it is shown once somebody said that it is going to print."""
    site = site_or_404(member, code)
    if request.method == "POST":
        done = _("The plate is ready to print. Whoever scans it now reads who looks after the system.")
        here = reverse("fleet:plate", args=[site.code])
        return one_act(request, lambda: print_plate(actor=member, site=site), done=done, then=here)
    printed = plate_of(site)
    context = {"site": site, "printed": printed, "picture": plate_svg(site.code) if printed else ""}
    return render(request, "fleet/plate.html", context)


@require_POST
@staff_page
def retire(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """The site leaves service."""
    site = site_or_404(member, code)
    done = _("Retired. The record stays; nothing more is linked here.")
    return one_act(request, lambda: retire_site(actor=member, site=site), done=done, then=_page(site))


@require_POST
@staff_page
def tag(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """The site carries exactly the typed tags."""
    site = site_or_404(member, code)
    names = request.POST.get("tags", "").split(",")
    return one_act(
        request, lambda: tag_site(actor=member, site=site, names=names), done=_("Tags saved."), then=_page(site)
    )


def _page(site: Site) -> str:
    return reverse("fleet:site", args=[site.code])


def _permitted(member: Member) -> dict[str, bool]:
    return {act.name.lower(): may(member, act) for act in Act}


def _handover(member: Member, site: Site) -> dict[str, Any]:
    """The handover that stands, and whether this member may take it back."""
    handover = last_handover(site) if site.stage == Stage.HANDED_OVER else None
    return {"handover": handover, "may_take_back": handover is not None and may_take_back(member, handover)}


def _own_panels(member: Member, record: SiteRecord) -> list[Panel]:
    assignable = list(assignable_members(member)) if may(member, Act.ASSIGN) else []
    return [
        Panel("fleet/parts/standing.html", order=10, across=True),
        Panel("fleet/parts/installation.html", order=32),
        Panel("fleet/parts/plan.html", order=36),
        Panel("fleet/parts/checks.html", order=40),
        Panel("fleet/parts/assignments.html", {"assignable": assignable}, order=38),
        Panel("fleet/parts/files.html", {"largest_file": settings.UPLOAD_MAX_BYTES}, order=70),
    ]


def _columns(panels: list[Panel]) -> dict[str, Any]:
    panels = sorted(panels, key=lambda panel: panel.order)
    narrow = [panel for panel in panels if not panel.across]
    return {
        "left": [panel for panel in narrow if panel.order <= LAST_OF_THE_LEFT_COLUMN],
        "right": [panel for panel in narrow if panel.order > LAST_OF_THE_LEFT_COLUMN],
        "first": [panel for panel in panels if panel.across and panel.order <= LAST_OF_THE_LEFT_COLUMN],
        "below": [panel for panel in panels if panel.across and panel.order > LAST_OF_THE_LEFT_COLUMN],
    }
