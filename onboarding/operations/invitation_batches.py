"""Inviting several owners by one press: first what it would do, then the press, and until mail leaves a way back."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import timedelta

from django.db import transaction
from django.utils import timezone

from fleet.models import Member
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import ActRefused, NotThere
from fleet.operations.rollback import unchanged_if_refused
from onboarding.models import HeldReason, Invitation, InvitationBatch, InvitationState, Ownership
from onboarding.operations import held
from onboarding.operations.deliveries import stop_queued
from onboarding.operations.invitation_states import end_links, move
from onboarding.operations.invitations import queue_invitation
from onboarding.operations.ledger import lock_head
from onboarding.queries.invitation_batches import invitations_of_batch
from onboarding.queries.ready import ready_to_invite

MOST_AT_ONCE = 200
TAKEN_BACK_FOR = timedelta(minutes=5)
"""How long the mails of one press wait, so that there is something to take back."""


class UnknownBatch(NotThere):
    """No such press for this member."""

    code = "unknown_batch"


@dataclass
class Pressed:
    """What a press does or did: whom it invites, and how many it skips, by the reason in words."""

    chosen: list[Ownership] = field(default_factory=list)
    skipped: Counter[str] = field(default_factory=Counter)
    batch: InvitationBatch | None = None


@unchanged_if_refused
def weigh(*, actor: Member, ownerships: Iterable[int]) -> Pressed:
    """What inviting these would do; nothing is changed. Those that are not ready to be invited are left out.

    Raises NotAllowed.
    """
    require(actor, Act.INVITE_OWNER)
    pressed = Pressed()
    found = ready_to_invite(actor).filter(pk__in=list(ownerships)[:MOST_AT_ONCE])
    for ownership in found.select_related("site__company__policy", "owner"):
        if reason := held.hold_reason(ownership.site, ownership.owner):
            pressed.skipped[str(HeldReason(reason).label)] += 1
        else:
            pressed.chosen.append(ownership)
    return pressed


@unchanged_if_refused
def invite_several(*, actor: Member, ownerships: Iterable[int]) -> Pressed:
    """Invite those of these owners who may be written to now, each on its own; the others are skipped and stay as they
    are. Their mails wait some minutes, so that the press can be taken back. Raises NotAllowed.
    """
    pressed = weigh(actor=actor, ownerships=ownerships)
    chosen, pressed.chosen = pressed.chosen, []
    if not chosen:
        return pressed
    now = timezone.now()
    pressed.batch = InvitationBatch.objects.create(
        company=actor.company, made_by=actor, made_at=now, leaves_at=now + TAKEN_BACK_FOR
    )
    for ownership in chosen:
        try:
            queue_invitation(actor=actor, site=ownership.site, owner=ownership.owner, batch=pressed.batch)
        except ActRefused as refusal:
            pressed.skipped[str(refusal.sentence)] += 1
        else:
            pressed.chosen.append(ownership)
    return pressed


@unchanged_if_refused
def take_back(*, actor: Member, batch: InvitationBatch) -> int:
    """Take back what of a press has not left yet: those owners are ready to be invited as before. Returns how many.

    Raises NotAllowed or UnknownBatch.
    """
    require(actor, Act.INVITE_OWNER)
    if batch.company_id != actor.company_id:
        raise UnknownBatch
    waiting = invitations_of_batch(actor, batch).filter(state=InvitationState.QUEUED)
    return sum(_taken_back(invitation, actor) for invitation in waiting.select_related("company", "site"))


@transaction.atomic
def _taken_back(invitation: Invitation, actor: Member) -> bool:
    lock_head(invitation.company)
    if not stop_queued(invitation=invitation, reason="cancelled"):
        return False  # it is on the wire
    if not move(
        invitation, since=(InvitationState.QUEUED,), to=InvitationState.DRAFT, what="taken_back", member=actor,
        expires_at=None,
    ):  # fmt: skip
        return False
    end_links(invitation)
    record_act(
        act="take_back_invitation",
        company=invitation.company,
        about=invitation,
        actor=actor,
        site=invitation.site,
        after={"state": invitation.state},
    )
    return True
