"""What became of an invitation's mails, told by the sender and by bounces. Each may be told twice, late, or never.

A result that no longer fits the invitation's state changes nothing.
"""

from collections.abc import Iterable

from django.utils import timezone

from onboarding.models import Delivery, Invitation, InvitationEvent, InvitationState, Stream
from onboarding.operations.invitation_states import end_links, move, move_all, note

WAITING = (InvitationState.QUEUED,)
UNDER_WAY = (InvitationState.QUEUED, InvitationState.SENT)


def mark_sent(deliveries: Iterable[Delivery]) -> None:
    """These mails were taken by the receiving server. Call inside a transaction."""
    reminders, others = [], {}
    for delivery in deliveries:
        if delivery.invitation_id is None:
            continue
        facts = {"delivery": str(delivery.public_id)}
        if delivery.stream == Stream.REMINDER:
            event = {"company_id": delivery.company_id, "invitation_id": delivery.invitation_id}
            reminders.append(InvitationEvent(what="reminder_sent", facts=facts, **event))
        else:
            others[delivery.invitation_id] = facts
    InvitationEvent.objects.bulk_create(reminders)
    move_all(others, since=WAITING, to=InvitationState.SENT, sent_at=timezone.now())


def mark_failed(*, delivery: Delivery, reason: str = "") -> None:
    """The mail was refused or given up."""
    _end(delivery, InvitationState.FAILED, since=WAITING, reason=reason)


def mark_bounced(*, delivery: Delivery, permanent: bool) -> None:
    """A report says that the mail did not arrive."""
    _end(delivery, InvitationState.BOUNCED, since=UNDER_WAY, reason="permanent" if permanent else "transient")


def mark_complained(*, delivery: Delivery) -> None:
    """The recipient marked the mail as unwanted: the invitation and its links have ended."""
    since = (*UNDER_WAY, InvitationState.OPENED)
    if _end(delivery, InvitationState.COMPLAINED, since=since, reason=""):
        end_links(delivery.invitation)  # type: ignore[arg-type]  # _end moved it, so it is there


def note_unknown(*, delivery: Delivery) -> None:
    """It is not known whether the mail arrived; a bounce, an opened link or an administrator settles it."""
    if (invitation := _of(delivery)) is not None:
        note(invitation, "unknown", facts={"delivery": str(delivery.public_id)})


def mark_stopped(*, delivery: Delivery, reason: str) -> None:
    """The check before the body refused it: ``reason`` is a HeldReason, under which the invitation is held."""
    invitation = _of(delivery)
    if invitation is None:
        return
    facts = {"delivery": str(delivery.public_id), "reason": reason}
    if delivery.stream == Stream.REMINDER:
        note(invitation, "reminder_stopped", facts=facts)
        return
    move(invitation, since=WAITING, to=InvitationState.HELD, facts=facts, held_reason=reason)


def _end(delivery: Delivery, state: str, *, since: tuple[str, ...], reason: str) -> bool:
    invitation = _of(delivery)
    if invitation is None:
        return False
    facts = {"delivery": str(delivery.public_id), "reason": reason}
    if delivery.send_number != invitation.send_number and delivery.stream == Stream.INVITATION:
        note(invitation, f"earlier_{state}", facts=facts)
        return False
    return move(invitation, since=since, to=state, facts=facts)


def _of(delivery: Delivery) -> Invitation | None:
    if delivery.invitation_id is None:
        return None
    return Invitation.objects.select_related("company", "site", "owner").get(pk=delivery.invitation_id)
