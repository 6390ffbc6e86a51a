"""Moves an invitation from one state to another, so that exactly one of several movers wins, and keeps its timeline."""

from collections.abc import Iterable, Mapping
from typing import Any

from django.utils import timezone

from fleet.models import Member
from fleet.search import reindex
from onboarding.models import Invitation, InvitationEvent, InvitationLink, InvitationState

ENDED = frozenset(
    {
        InvitationState.ACCEPTED,
        InvitationState.BOUNCED,
        InvitationState.COMPLAINED,
        InvitationState.FAILED,
        InvitationState.EXPIRED,
        InvitationState.CANCELLED,
        InvitationState.REPLACED,
    }
)
RESENDABLE_ENDS = frozenset({InvitationState.BOUNCED, InvitationState.FAILED, InvitationState.EXPIRED})


def move(
    invitation: Invitation,
    *,
    since: Iterable[str],
    to: str,
    what: str = "",
    member: Member | None = None,
    facts: dict[str, Any] | None = None,
    indexed: bool = True,
    **columns: Any,
) -> bool:
    """Move to state ``to`` if the row still stands in one of ``since``; says whether this call won.

    The winner writes one line of the timeline (``what``, by default the new state) and ``invitation`` is brought up to
    date. Call inside a transaction. ``indexed`` False leaves the site's index to the caller, who writes more of it.
    """
    changes: dict[str, Any] = {"state": to, **columns}
    if to != InvitationState.HELD:
        changes["held_reason"] = ""
    if to in ENDED:
        changes.setdefault("ended_at", timezone.now())
    if Invitation.objects.filter(pk=invitation.pk, state__in=list(since)).update(**changes) != 1:
        return False
    invitation.refresh_from_db(fields=[*changes])
    note(invitation, what or to, member=member, facts=facts)
    if indexed:
        reindex([invitation.site_id])
    return True


def move_all(facts: Mapping[int, dict[str, Any]], *, since: Iterable[str], to: str, **columns: Any) -> None:
    """``move`` for many with few queries: ``facts`` of each line of the timeline by invitation. ``to`` is no end."""
    standing = Invitation.objects.filter(pk__in=facts, state__in=list(since)).order_by("pk")
    winners = list(standing.select_for_update().only("company_id", "site_id"))
    Invitation.objects.filter(pk__in=[one.pk for one in winners]).update(state=to, held_reason="", **columns)
    InvitationEvent.objects.bulk_create(
        InvitationEvent(company_id=one.company_id, invitation_id=one.pk, what=to, facts=facts[one.pk])
        for one in winners
    )
    reindex(one.site_id for one in winners)


def note(
    invitation: Invitation, what: str, *, member: Member | None = None, facts: dict[str, Any] | None = None
) -> None:
    """Add one line to the timeline; ``facts`` hold ids and reasons, never personal values."""
    InvitationEvent.objects.create(
        company_id=invitation.company_id, invitation=invitation, what=what, member=member, facts=facts or {}
    )


def end_links(invitation: Invitation) -> None:
    """No link or code made so far opens this invitation any more."""
    InvitationLink.objects.filter(invitation=invitation, ended_at__isnull=True).update(ended_at=timezone.now())
