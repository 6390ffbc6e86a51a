"""The staff's lists of invitations, one invitation's timeline, and acts on one."""

from uuid import UUID

from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST, require_safe

from fleet.models import Member
from fleet.views.staff import administrators_page, one_act, staff_page
from onboarding.models import Delivery, Invitation
from onboarding.operations.invitations import MOST_REMINDERS
from onboarding.operations.settling import settle_unknown
from onboarding.operations.several_invitations import ACTS
from onboarding.queries.invitation_list import (
    A_PAGE,
    BY_NAME,
    FREEING,
    SHOWS,
    counts,
    shown,
    successor,
    visible_invitations,
)
from onboarding.queries.ready import never_invited
from onboarding.queries.sending_picture import sending_picture
from onboarding.queries.timeline import mails, timeline, waits_for
from onboarding.views.site_owners import site_part


@require_safe
@staff_page
def invitations(request: HttpRequest, member: Member) -> HttpResponse:
    """One list by state, newest first, with the counts of all of them."""
    show = BY_NAME.get(request.GET.get("show", ""), BY_NAME["held"])
    before = _number(request.GET.get("before", ""))
    rows = shown(member, show)
    page = list((rows.filter(id__lt=before) if before else rows)[: A_PAGE + 1])
    numbers = counts(member)
    here = f"{reverse('onboarding:invitations')}?show={show.name}"
    return render(
        request,
        "onboarding/staff/invitations.html",
        {
            "show": show,
            "lists": [{"show": each, "number": numbers[each.name]} for each in SHOWS],
            "ready": never_invited(member).count(),
            "rows": [(row, FREEING.get(row.held_reason)) for row in page[:A_PAGE]],
            "newer_url": here if before else "",
            "older_url": f"{here}&before={page[A_PAGE - 1].id}" if len(page) > A_PAGE else "",
        },
    )


@require_safe
@staff_page
def invitation(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """One invitation: where it stands, whose move it is, and everything that happened."""
    found = _found(member, public_id)
    return render(
        request,
        "onboarding/staff/invitation.html",
        {
            "invitation": found,
            "site": found.site,
            "owner": found.owner,
            "lines": timeline(found),
            "mails": [(each, waits_for(each)) for each in mails(found)],
            "successor": successor(found),
            "freeing": FREEING.get(found.held_reason),
            "freeing_url": site_part(found.site, "permissions"),
            "may_remind": found.state in ("sent", "opened") and found.reminders < MOST_REMINDERS,
            "may_resend": found.state in ("queued", "sent", "opened", "bounced", "failed", "expired"),
            "may_cancel": found.state in ("draft", "held", "queued", "sent", "opened"),
        },
    )


@require_POST
@staff_page
def act_on_one(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Remind, send again or cancel."""
    found, name = _found(member, public_id), request.POST.get("act", "")
    if name not in ACTS:
        raise Http404
    done = {
        "remind": _("A reminder is in line."),
        "resend": _("It is sent again with a new link; earlier links are dead."),
        "cancel": _("The invitation is called off; its links are dead."),
    }
    then = request.POST.get("then", "")
    at_site = site_part(found.site, "owners")
    page = reverse("onboarding:invitation", args=[public_id])
    answer = one_act(
        request, lambda: ACTS[name](member, found), done=done[name], then=at_site if then == "site" else page
    )
    later = successor(found) if then != "site" else None
    if later is None:
        return answer
    return HttpResponseRedirect(reverse("onboarding:invitation", args=[later.public_id]))


@require_POST
@administrators_page
def settle(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """An administrator says whether a mail of unknown fate arrived."""
    delivery = (
        Delivery.objects.filter(company_id=member.company_id, public_id=public_id, invitation__isnull=False)
        .select_related("invitation")
        .first()
    )
    if delivery is None or delivery.invitation is None or request.POST.get("arrived") not in ("yes", "no"):
        raise Http404
    return one_act(
        request,
        lambda: settle_unknown(actor=member, delivery=delivery, arrived=request.POST["arrived"] == "yes"),
        done=_("Settled."),
        then=reverse("onboarding:invitation", args=[delivery.invitation.public_id]),
    )


@require_safe
@staff_page
def sending(request: HttpRequest, member: Member) -> HttpResponse:
    """What the company's sending looked like over the last 30 days."""
    return render(request, "onboarding/staff/sending.html", {"picture": sending_picture(member)})


def _found(member: Member, public_id: UUID) -> Invitation:
    found = visible_invitations(member).select_related("company__policy").filter(public_id=public_id).first()
    if found is None:
        raise Http404
    return found


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 19 else 0
