"""What is planned at a site: how many of each kind, and single units."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from fleet.forms.plans import PlanForm, PlannedUnitForm
from fleet.forms.refused import show_refusal
from fleet.models import Member, Site
from fleet.operations.plans import plan_unit, state_plan, take_unit_off_plan
from fleet.operations.refusals import ActRefused, NotThere
from fleet.queries.plans import plan_of
from fleet.views.paths import site_or_404
from fleet.views.staff import one_act, staff_page


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def plan(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """Say how many of each kind will stand at the site."""
    site = site_or_404(member, code)
    if request.method != "POST":
        return _page(request, member, site)
    form = PlanForm(request.POST)
    if not form.is_valid():
        return _page(request, member, site, form=form, status=422)
    try:
        state_plan(actor=member, site=site, counts=form.counts)
    except NotThere as refusal:
        raise Http404 from refusal
    except ActRefused as refusal:
        return _page(request, member, site, form=form, status=show_refusal(form, refusal))
    messages.success(request, _("The plan is saved."))
    return redirect("fleet:site", site.code)


@require_POST
@staff_page
def add_unit(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """One more unit of which a serial, a model or a place is planned."""
    site = site_or_404(member, code)
    form = PlannedUnitForm(request.POST, member=member)
    if not form.is_valid():
        return _page(request, member, site, unit_form=form, status=422)
    try:
        plan_unit(actor=member, site=site, **form.cleaned_data)
    except NotThere as refusal:
        raise Http404 from refusal
    except ActRefused as refusal:
        return _page(request, member, site, unit_form=form, status=show_refusal(form, refusal))
    messages.success(request, _("Added to the plan."))
    return redirect("fleet:plan", site.code)


@require_POST
@staff_page
def take_off(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """A unit is not planned any more."""
    site = site_or_404(member, code)
    serial = request.POST.get("serial", "")
    return one_act(
        request,
        lambda: take_unit_off_plan(actor=member, site=site, serial=serial),
        done=_("%(serial)s is not planned here any more.") % {"serial": serial},
        then=reverse("fleet:plan", args=[site.code]),
    )


def _page(
    request: HttpRequest,
    member: Member,
    site: Site,
    *,
    form: PlanForm | None = None,
    unit_form: PlannedUnitForm | None = None,
    status: int = 200,
) -> HttpResponse:
    context = {
        "site": site,
        "plan": plan_of(site),
        "form": form or PlanForm(site=site),
        "unit_form": unit_form or PlannedUnitForm(member=member),
    }
    return render(request, "fleet/plan.html", context, status=status)
