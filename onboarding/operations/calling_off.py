"""Calling invitations off because of something else: the house was sold, or the site was retired."""

from django.db.models import QuerySet

from fleet.models import Member, Site
from onboarding.models import Invitation, InvitationState
from onboarding.models.invitation import OPEN_STATES
from onboarding.operations.deliveries import stop_queued
from onboarding.operations.invitation_states import end_links, move
from onboarding.operations.ledger import lock_head


def call_off(invitations: QuerySet[Invitation], *, member: Member, reason: str) -> None:
    """End those of ``invitations`` that are open: their links are dead, what waits to leave is stopped.

    Within a transaction, the ledger's head locked.
    """
    for invitation in invitations.filter(state__in=OPEN_STATES):
        move(invitation, since=OPEN_STATES, to=InvitationState.CANCELLED, member=member, facts={"reason": reason})
        end_links(invitation)
        stop_queued(invitation=invitation)


def call_off_at(site: Site, member: Member) -> None:
    """Nobody is invited to a retired site; for ``settings.WHEN_A_SITE_RETIRES``, within the transaction of it."""
    lock_head(site.company)
    call_off(Invitation.objects.filter(site=site), member=member, reason="retired")
