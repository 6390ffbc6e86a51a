"""Swapping a device: the label of the one that comes in takes over from the one that goes."""

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from fleet.forms.refused import show_refusal
from fleet.forms.scans import SwapForm, kept_text
from fleet.models import Member, Outcome, Placement
from fleet.operations.placements import NewDeviceNotLinked, swap_device
from fleet.operations.refusals import ActRefused, NotThere
from fleet.operations.scans import RecordMismatch
from fleet.queries.devices import replacement_of
from fleet.views.devices import placement_or_404
from fleet.views.readings import facts_read
from fleet.views.staff import staff_page


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def swap(request: HttpRequest, member: Member, code: str, public_id: UUID) -> HttpResponse:
    """Take one label, end the old device's placement and place the new one; both or neither."""
    old = placement_or_404(member, code, public_id)
    if request.method != "POST":
        return _page(request, old, SwapForm(company=member.company))
    form = SwapForm(request.POST, request.FILES, company=member.company)
    if not form.is_valid():
        return _page(request, old, form, 422)
    try:
        answer = swap_device(actor=member, old=old, capture=form.answer(old.site))
    except NewDeviceNotLinked as refusal:
        return _not_linked(request, old, form, refusal.facts["answer"])
    except RecordMismatch as refusal:
        return _sent_already(request, old) or _page(request, old, form, show_refusal(form, refusal))
    except NotThere as refusal:
        raise Http404 from refusal
    except ActRefused as refusal:
        return _page(request, old, form, show_refusal(form, refusal))
    return _done(request, old, answer.scan.device.serial if answer.scan.device else "")


def _done(request: HttpRequest, old: Placement, serial: str) -> HttpResponse:
    said = _("Swapped: %(new)s stands here in place of %(old)s.") % {"new": serial, "old": old.device.serial}
    messages.success(request, said)
    return redirect("fleet:site", old.site.code)


def _sent_already(request: HttpRequest, old: Placement) -> HttpResponse | None:
    """A second press of the same form: the swap was done once, and is told of again."""
    new = replacement_of(old)
    return _done(request, old, new.device.serial) if new else None


def _not_linked(request: HttpRequest, old: Placement, form: SwapForm, answer: dict[str, Any]) -> HttpResponse:
    asks = answer["outcome"] == Outcome.CONFIRM
    again = SwapForm(company=form.company, initial={"kept": kept_text(form)}) if asks else form
    candidates = [each for each in answer["candidates"] if each["id"] != str(old.device.public_id)]
    context = {"answer": answer, "asks": asks, "candidates": candidates, "facts": facts_read(answer["reading"])}
    return _page(request, old, again, 409, **context)


def _page(request: HttpRequest, old: Placement, form: SwapForm, status: int = 200, **more: Any) -> HttpResponse:
    return render(request, "fleet/swap.html", {"old": old, "site": old.site, "form": form, **more}, status=status)
