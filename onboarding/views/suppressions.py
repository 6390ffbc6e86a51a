"""Addresses that the company must not write to: the list, entering one, lifting one."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from fleet.forms.refused import show_refusal
from fleet.models import Member
from fleet.operations.permissions import Act, may
from fleet.operations.refusals import ActRefused
from fleet.views.staff import administrators_page, one_act, staff_page
from onboarding.forms.staff import SuppressForm
from onboarding.models import Suppression
from onboarding.operations.suppressions import lift_suppression, suppress
from onboarding.queries.suppressions import standing_suppressions

A_PAGE = 100


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def suppressions(request: HttpRequest, member: Member) -> HttpResponse:
    """The standing ones, newest first; administrators enter one."""
    form = SuppressForm(request.POST if request.method == "POST" else None)
    status = 200
    if request.method == "POST":
        try:
            if form.is_valid():
                suppress(company=member.company, actor=member, reason=Suppression.Reason.BY_STAFF, **form.cleaned_data)
                messages.success(request, _("Nothing is sent to this address any more, safety notices aside."))
                return HttpResponseRedirect(reverse("onboarding:suppressions"))
            status = 422
        except ActRefused as refusal:
            status = 403 if refusal.code == "not_allowed" else show_refusal(form, refusal)
    rows = list(standing_suppressions(member)[:A_PAGE])
    context = {"rows": rows, "form": form, "may_lift": may(member, Act.LIFT_SUPPRESSION), "most": A_PAGE}
    return render(request, "onboarding/staff/suppressions.html", context, status=status)


@require_POST
@administrators_page
def lift(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Let mail to the address leave again."""
    found = Suppression.objects.filter(company_id=member.company_id, public_id=public_id).first()
    if found is None:
        raise Http404
    return one_act(
        request,
        lambda: lift_suppression(actor=member, suppression=found),
        done=_("Mail to this address may leave again."),
        then=reverse("onboarding:suppressions"),
    )
