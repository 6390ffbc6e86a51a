"""Inviting several owners at once: whom, what it will do, and taking it back."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_POST, require_safe

from fleet.models import Member
from fleet.views.staff import staff_page
from onboarding.models import InvitationBatch, InvitationState
from onboarding.operations.invitation_batches import MOST_AT_ONCE, invite_several, take_back, weigh
from onboarding.queries.invitation_batches import batch_of, numbers_of
from onboarding.queries.ready import never_invited, ran_out


@require_safe
@staff_page
def ready(request: HttpRequest, member: Member) -> HttpResponse:
    """Owners who may be written to and were never invited; apart from them those whose invitation ran out."""
    first, again = never_invited(member), ran_out(member)
    return render(
        request,
        "onboarding/staff/ready.html",
        {
            "rows": list(first[:MOST_AT_ONCE]),
            "number": first.count(),
            "again": list(again[:MOST_AT_ONCE]),
            "again_number": again.count(),
            "most": MOST_AT_ONCE,
        },
    )


@require_POST
@staff_page
def invite_chosen(request: HttpRequest, member: Member) -> HttpResponse:
    """First what inviting the chosen owners will do; once that is confirmed, do it."""
    chosen = [int(text) for text in request.POST.getlist("ownership") if text.isascii() and text.isdigit()]
    chosen = [each for each in chosen if each < 2**63]
    back = HttpResponseRedirect(reverse("onboarding:ready"))
    if not chosen:
        messages.warning(request, _("Nobody was chosen, so nobody was invited."))
        return back
    if request.POST.get("sure") != "yes":
        pressed = weigh(actor=member, ownerships=chosen)
        return render(
            request, "onboarding/staff/invite_several.html", {"pressed": pressed, "skipped": _lines(pressed.skipped)}
        )
    pressed = invite_several(actor=member, ownerships=chosen)
    for why, number in _lines(pressed.skipped):
        messages.warning(request, _("Not invited, %(n)d: %(why)s") % {"n": number, "why": why})
    if pressed.batch is None:
        messages.warning(request, _("Nobody was invited."))
        return back
    return HttpResponseRedirect(reverse("onboarding:batch", args=[pressed.batch.public_id]))


@require_safe
@staff_page
def batch(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """What became of one press, and the way back while something waits."""
    found = _found(member, public_id)
    numbers = numbers_of(member, found)
    return render(
        request,
        "onboarding/staff/batch.html",
        {
            "batch": found,
            "numbers": [(InvitationState(state).label, number) for state, number in sorted(numbers.items())],
            "invited": sum(numbers.values()),
            "waiting": numbers.get(InvitationState.QUEUED, 0),
            "leaves_soon": found.leaves_at > timezone.now(),
        },
    )


@require_POST
@staff_page
def take_batch_back(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Take back what has not left yet."""
    found = _found(member, public_id)
    number = take_back(actor=member, batch=found)
    said = ngettext("%(n)d invitation was taken back.", "%(n)d invitations were taken back.", number) % {"n": number}
    messages.success(request, said) if number else messages.warning(
        request, _("Every mail has left already, so nothing was taken back.")
    )
    return HttpResponseRedirect(reverse("onboarding:batch", args=[public_id]))


def _lines(skipped: dict[str, int]) -> list[tuple[str, int]]:
    return sorted(skipped.items())


def _found(member: Member, public_id: UUID) -> InvitationBatch:
    found = batch_of(member, public_id)
    if found is None:
        raise Http404
    return found
