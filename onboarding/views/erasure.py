"""Erasing an owner's data: what would go, and the button."""

from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from fleet.forms.refused import show_refusal
from fleet.models import Member
from fleet.operations.permissions import Act, may
from fleet.operations.refusals import ActRefused
from fleet.views.staff import staff_page
from onboarding.forms.staff import EraseForm
from onboarding.models import Delivery, Owner, Ownership
from onboarding.operations.erasure import erase_owner


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def erase(request: HttpRequest, member: Member, owner_id: UUID) -> HttpResponse:
    """Ask once more, then erase."""
    owner = Owner.objects.filter(company_id=member.company_id, public_id=owner_id, erased_at__isnull=True).first()
    if owner is None:
        raise Http404
    if not may(member, Act.ERASE_OWNER):
        raise PermissionDenied
    ownerships = list(Ownership.objects.filter(owner=owner).select_related("site").order_by("-since", "-id"))
    form = EraseForm(request.POST if request.method == "POST" else None)
    context = {
        "form": form,
        "owner": owner,
        "ownerships": ownerships,
        "answers": owner.consent_entries.count(),
        "mails": Delivery.objects.filter(company_id=member.company_id, owner=owner).count(),
    }
    if request.method != "POST":
        return render(request, "onboarding/staff/erase.html", context)
    if not form.is_valid():
        return render(request, "onboarding/staff/erase.html", context, status=422)
    try:
        erase_owner(actor=member, owner=owner)
    except ActRefused as refusal:
        return render(request, "onboarding/staff/erase.html", context, status=show_refusal(form, refusal))
    messages.success(request, _("The data is erased. That it was, and what was permitted when, stays in the ledger."))
    code = ownerships[0].site.code if ownerships else None
    return HttpResponseRedirect(reverse("fleet:site", args=[code]) if code else reverse("onboarding:invitations"))
