"""Handing a site over: what is still open, the question, and taking it back."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_POST

from fleet.models import Member, Site, Stage
from fleet.operations.site_stages import hand_over_site, take_back_handover
from fleet.queries.site_page import SiteRecord, site_record
from fleet.views.panels import HandoverPoint, points_of
from fleet.views.paths import site_or_404
from fleet.views.staff import one_act, staff_page


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def hand_over(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """Show what is open and ask; then the site passes to its owner."""
    site = site_or_404(member, code)
    if request.method == "POST":
        done = _(
            "Handed over. You can take that back within a day, at the foot of this page; later an administrator can."
        )
        return one_act(request, lambda: hand_over_site(actor=member, site=site), done=done, then=_page(site))
    if site.stage not in (Stage.PLANNED, Stage.INSTALLED):
        messages.info(request, _("This site is handed over or retired already, so there is nothing to ask."))
        return redirect(_page(site))
    points = [*_own_points(site_record(site)), *points_of(request, site)]
    context = {
        "site": site,
        "open": [point for point in points if point.open],
        "settled": [point for point in points if not point.open],
    }
    return render(request, "fleet/hand_over.html", context)


@require_POST
@staff_page
def take_back(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """The handover was a mistake: the site is as far as it was before."""
    site = site_or_404(member, code)
    done = _("The handover is taken back. The site is as far as it was before; both acts stay in the years.")
    return one_act(request, lambda: take_back_handover(actor=member, site=site), done=done, then=_page(site))


def _own_points(record: SiteRecord) -> list[HandoverPoint]:
    return [_devices(record), *_leading(record), *_planned(record), *_checks(record)]


def _devices(record: SiteRecord) -> HandoverPoint:
    number = len(record.standing)
    sentence = (
        ngettext("%(n)d device stands there.", "%(n)d devices stand there.", number) % {"n": number}
        if number
        else _("Nothing is registered there yet.")
    )
    return HandoverPoint(_("What stands there"), sentence, not number, "standing")


def _leading(record: SiteRecord) -> list[HandoverPoint]:
    if not record.several_inverters:
        return []
    if record.leads is None:
        sentence = _("There are several inverters, and none is said to lead.")
        return [HandoverPoint(_("Leading inverter"), sentence, True, "standing")]
    sentence = _("%(serial)s leads.") % {"serial": record.leads.device.serial}
    return [HandoverPoint(_("Leading inverter"), sentence, False, "standing")]


def _planned(record: SiteRecord) -> list[HandoverPoint]:
    missing = [line for line in record.plan.lines if line.missing]
    if not missing:
        return []
    lacking = ", ".join(f"{line.kind.label}: {line.missing}" for line in missing)
    return [HandoverPoint(_("What is planned"), _("Not scanned yet: %(units)s") % {"units": lacking}, True, "planned")]


def _checks(record: SiteRecord) -> list[HandoverPoint]:
    undone = [check for check in record.checks if check.finding in ("open", "problem")]
    if undone:
        return [HandoverPoint(check.title, check.get_finding_display(), True, "to-do") for check in undone]
    if not record.checks:
        return [HandoverPoint(_("Checks"), _("No handover check is listed for this site."), True, "to-do")]
    number = len(record.checks)
    sentence = ngettext(
        "%(n)d check is done or waived.", "All %(n)d checks are done or waived.", number
    ) % {"n": number}  # fmt: skip
    return [HandoverPoint(_("Checks"), sentence, False, "to-do")]


def _page(site: Site) -> str:
    return reverse("fleet:site", args=[site.code])
