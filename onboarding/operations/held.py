"""Whether an invitation may leave: held with its reason, or queued; looked at again whenever a reason may be gone."""

from datetime import datetime, timedelta

from django.utils import timezone

from fleet.models import HandoverCheck, Member, Site
from onboarding.ledger.standing import GRANTING
from onboarding.mail.addresses import BadAddress, usable_address
from onboarding.models import (
    ConsentStanding,
    ConsentState,
    HeldReason,
    Invitation,
    InvitationState,
    Owner,
    Purpose,
    Stream,
    Suppression,
)
from onboarding.operations.deliveries import queue_delivery, stop_queued
from onboarding.operations.invitation_states import move
from onboarding.operations.suppressions import standing_suppression
from onboarding.queries.derived_standing import borne_out

WAITING = (InvitationState.DRAFT, InvitationState.HELD)


def hold_reason(site: Site, owner: Owner) -> str:
    """Why an invitation to ``owner`` about ``site`` may not leave now; empty when it may."""
    if not owner.email:
        return HeldReason.NO_ADDRESS
    if not _usable(owner.email):
        return HeldReason.BAD_ADDRESS
    suppression = standing_suppression(company_id=site.company_id, address=owner.email)
    if suppression is not None:
        bounced = suppression.reason == Suppression.Reason.BOUNCED
        return HeldReason.BAD_ADDRESS if bounced else HeldReason.OPTED_OUT
    return permission_reason(site, owner) or _readiness_reason(site)


def permission_reason(site: Site, owner: Owner) -> str:
    """The part of the answer that also holds for a letter: whether the owner may be written to at all."""
    standing = ConsentStanding.objects.filter(site=site, owner=owner, purpose=Purpose.CONTACT).first()
    if standing is None or standing.state == ConsentState.REQUESTED:
        return HeldReason.NO_CONSENT
    if (site.pk, owner.pk) not in borne_out([(site.pk, owner.pk)]):
        return HeldReason.LEDGER_DIFFERS
    if standing.state == ConsentState.EXPIRED or (standing.ends_at and standing.ends_at <= timezone.now()):
        return HeldReason.RAN_OUT
    return "" if standing.state in GRANTING else HeldReason.OPTED_OUT


def place(invitation: Invitation, *, member: Member | None = None, not_before: datetime | None = None) -> None:
    """Queue a waiting invitation, or hold it with its reason. Call inside a transaction, the ledger's head locked."""
    reason = hold_reason(invitation.site, invitation.owner)
    if reason:
        if invitation.held_reason != reason:
            move(
                invitation,
                since=WAITING,
                to=InvitationState.HELD,
                member=member,
                facts={"reason": reason},
                held_reason=reason,
            )
        return
    send(invitation, since=WAITING, member=member, not_before=not_before)


def send(
    invitation: Invitation,
    *,
    since: tuple[str, ...],
    member: Member | None = None,
    what: str = "queued",
    stream: str = Stream.INVITATION,
    not_before: datetime | None = None,
) -> bool:
    """Raise the send number and queue the mail; False when the invitation had moved on meanwhile."""
    won = move(
        invitation,
        since=since,
        to=InvitationState.QUEUED,
        what=what,
        member=member,
        send_number=invitation.send_number + 1,
        expires_at=timezone.now() + lasting(invitation),
    )
    if won:
        queue_mail(invitation, stream=stream, not_before=not_before)
    return won


def lasting(invitation: Invitation) -> timedelta:
    """How long the invitation stays good once it is sent, by the company's policy."""
    return timedelta(days=invitation.company.policy.invitation_days)


def queue_mail(invitation: Invitation, *, stream: str, not_before: datetime | None = None) -> None:
    """One delivery for the invitation's present send number."""
    queue_delivery(
        stream=stream,
        template=stream,
        to_address=invitation.owner.email,
        language=invitation.owner.language,
        company=invitation.company,
        invitation=invitation,
        owner=invitation.owner,
        site=invitation.site,
        not_before=not_before,
    )


def reconsider(*, site: Site, owner: Owner) -> None:
    """Look again at the owner's open invitation: free it, hold it, or say another reason. Within a transaction."""
    open_one = (
        Invitation.objects.filter(site=site, owner=owner, state__in=[*WAITING, InvitationState.QUEUED])
        .select_related("company", "company__policy", "site", "owner")
        .first()
    )
    if open_one is None:
        return
    if open_one.state != InvitationState.QUEUED:
        place(open_one)
        return
    reason = hold_reason(site, owner)
    if reason and move(
        open_one,
        since=(InvitationState.QUEUED,),
        to=InvitationState.HELD,
        facts={"reason": reason},
        held_reason=reason,
    ):
        stop_queued(invitation=open_one)


def _usable(address: str) -> bool:
    try:
        usable_address(address)
    except BadAddress:
        return False
    return True


def _readiness_reason(site: Site) -> str:
    if not site.company.policy.ready_before_invite:
        return ""
    undone = [HandoverCheck.Finding.OPEN, HandoverCheck.Finding.PROBLEM]
    return HeldReason.NOT_READY if HandoverCheck.objects.filter(site=site, finding__in=undone).exists() else ""
