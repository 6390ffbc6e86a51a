"""What staff do with invitations: invite, send again, remind, cancel, print a letter."""

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Member, Site
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import Conflicting, NotThere
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.site_guard import refuse_retired, require_at
from fleet.queries.visibility import may_see
from fleet.search import reindex
from onboarding.models import Invitation, InvitationBatch, InvitationState, Owner, Ownership, Stream
from onboarding.models.invitation import OPEN_STATES
from onboarding.operations import held
from onboarding.operations.deliveries import stop_queued
from onboarding.operations.invitation_links import mint_letter_code
from onboarding.operations.invitation_states import RESENDABLE_ENDS, end_links, move, note
from onboarding.operations.ledger import lock_head

MOST_REMINDERS = 2
ON_ITS_WAY = (InvitationState.QUEUED, InvitationState.SENT, InvitationState.OPENED)
REMINDABLE = (InvitationState.SENT, InvitationState.OPENED)


class UnknownInvitation(NotThere):
    """No such invitation for this member."""

    code = "unknown_invitation"


class OwnerNotAtSite(NotThere):
    """The person does not own this site now."""

    code = "owner_not_at_site"
    sentence = _("This person is not an owner of this site now. Nobody was invited.")


class AlreadyInvited(Conflicting):
    """An open invitation stands; ``facts["invitation"]`` is its public id."""

    code = "already_invited"
    sentence = _("This owner is invited already. Nothing was sent; you can send the invitation again or remind them.")


class AlreadyAccepted(Conflicting):
    """The owner accepted before."""

    code = "already_accepted"
    sentence = _("This owner has accepted already, so there is nobody to invite.")


class NotResendable(Conflicting):
    """The state does not allow sending again."""

    code = "not_resendable"
    sentence = _("This invitation cannot be sent again as it stands. Nothing was sent.")


class NotCancellable(Conflicting):
    """It has ended already."""

    code = "not_cancellable"
    sentence = _("This invitation has ended already, so there is nothing to cancel.")


class NotRemindable(Conflicting):
    """Not sent yet, ended, or reminded twice; ``facts["reminders"]`` says how often."""

    code = "not_remindable"
    sentence = _("A reminder goes out only for an invitation that was sent and not yet accepted, and twice at most.")


class MayNotWrite(Conflicting):
    """There is no permission to write; ``facts["reason"]`` says which."""

    code = "may_not_write"
    sentence = _("The owner has not allowed you to write about this site, so nothing was sent or printed.")


@unchanged_if_refused
def queue_invitation(*, actor: Member, site: Site, owner: Owner, batch: InvitationBatch | None = None) -> Invitation:
    """Invite ``owner``: the invitation is queued, or held with its reason. A missing permission is no exception.

    In a ``batch`` it leaves when the batch does, and one that ran out is replaced.

    Raises NotAllowed, OwnerNotAtSite, SiteRetired, AlreadyInvited or AlreadyAccepted.
    """
    with transaction.atomic():
        require_at(actor, Act.INVITE_OWNER, site, unknown=OwnerNotAtSite)
        if not _owns(owner, site):
            raise OwnerNotAtSite
        lock_head(site.company)
        theirs = Invitation.objects.filter(site=site, owner=owner).select_related("company__policy", "site", "owner")
        latest = theirs.order_by("-id").first()
        if batch and latest and latest.state == InvitationState.EXPIRED:
            return replace_invitation(latest, actor=actor, batch=batch)
        if latest and latest.state == InvitationState.DRAFT:
            invitation = latest
        else:
            _refuse_second(site, owner)
            invitation = _draft(site, owner, actor)
        _place(invitation, actor, batch)
        _audit("invite_owner", invitation, actor)
    return invitation


def _place(invitation: Invitation, actor: Member | None, batch: InvitationBatch | None) -> None:
    if batch is not None:
        invitation.batch = batch
        invitation.save(update_fields=["batch"])
    held.place(invitation, member=actor, not_before=batch.leaves_at if batch else None)


def queue_for_owner(*, site: Site, owner: Owner) -> Invitation:
    """Invite somebody whom another owner named. Within a transaction, the ledger's head locked."""
    invitation = _draft(site, owner, None)
    held.place(invitation)
    _audit("invite_owner", invitation, None)
    return invitation


@unchanged_if_refused
def resend_invitation(*, actor: Member, invitation: Invitation) -> Invitation:
    """Send again with a new link; every earlier link is dead. One that bounced, failed or ran out is replaced by a
    new invitation, which is returned.

    Raises NotAllowed, UnknownInvitation, SiteRetired or NotResendable.
    """
    invitation = _theirs(actor, invitation)
    with transaction.atomic():
        refuse_retired(invitation.site)
        lock_head(invitation.company)
        if invitation.state in RESENDABLE_ENDS:
            return replace_invitation(invitation, actor=actor)
        end_links(invitation)
        stop_queued(invitation=invitation)
        if not move(invitation, since=ON_ITS_WAY, to=InvitationState.DRAFT, what="resend_asked", member=actor):
            raise NotResendable
        held.place(invitation, member=actor)
        _audit("resend_invitation", invitation, actor)
    return invitation


@unchanged_if_refused
def replace_invitation(old: Invitation, *, actor: Member | None, batch: InvitationBatch | None = None) -> Invitation:
    """A new invitation in place of one that ended without being accepted. Within a transaction, the head locked.

    Raises NotResendable when it had moved on.
    """
    if not move(old, since=RESENDABLE_ENDS, to=InvitationState.REPLACED, member=actor):
        raise NotResendable
    end_links(old)
    _refuse_second(old.site, old.owner)
    fresh = _draft(old.site, old.owner, actor)
    _place(fresh, actor, batch)
    _audit("replace_invitation", fresh, actor)
    return fresh


@unchanged_if_refused
@transaction.atomic
def cancel_invitation(*, actor: Member, invitation: Invitation) -> None:
    """Call an invitation off: its links are dead and what waits to leave is stopped.

    Raises NotAllowed, UnknownInvitation or NotCancellable.
    """
    invitation = _theirs(actor, invitation)
    lock_head(invitation.company)
    if not move(invitation, since=OPEN_STATES, to=InvitationState.CANCELLED, member=actor):
        raise NotCancellable
    end_links(invitation)
    stop_queued(invitation=invitation)
    _audit("cancel_invitation", invitation, actor)


@unchanged_if_refused
@transaction.atomic
def remind(*, actor: Member | None, invitation: Invitation) -> None:
    """Queue a reminder, at most two for an invitation; earlier links stay good. ``actor`` None is the sweep.

    Raises NotAllowed, UnknownInvitation, SiteRetired, NotRemindable or MayNotWrite.
    """
    invitation = _theirs(actor, invitation) if actor else invitation
    refuse_retired(invitation.site)
    lock_head(invitation.company)
    if reason := held.hold_reason(invitation.site, invitation.owner):
        raise MayNotWrite(reason=reason)
    won = Invitation.objects.filter(
        pk=invitation.pk, state__in=REMINDABLE, reminders__lt=MOST_REMINDERS, reminders=invitation.reminders
    ).update(reminders=F("reminders") + 1, send_number=F("send_number") + 1)
    if won != 1:
        raise NotRemindable(reminders=invitation.reminders)
    invitation.refresh_from_db(fields=["reminders", "send_number"])
    note(invitation, "reminder_queued", member=actor, facts={"number": invitation.reminders})
    held.queue_mail(invitation, stream=Stream.REMINDER)
    _audit("remind_owner", invitation, actor)


@unchanged_if_refused
@transaction.atomic
def print_letter(*, actor: Member, site: Site, owner: Owner) -> tuple[Invitation, str]:
    """A one-time code for a printed letter, with its invitation (made when there is none). Earlier ways in are dead.

    Answers given with the code are weak, since whoever printed it knows it. The code is returned once; printing again
    makes another. Raises NotAllowed, OwnerNotAtSite, AlreadyAccepted or MayNotWrite.
    """
    require_at(actor, Act.PRINT_LETTER, site, unknown=OwnerNotAtSite)
    if not _owns(owner, site):
        raise OwnerNotAtSite
    lock_head(site.company)
    if reason := held.permission_reason(site, owner):
        raise MayNotWrite(reason=reason)
    if _accepted(site, owner) and owner.user_id is not None:
        raise AlreadyAccepted
    found = Invitation.objects.filter(site=site, owner=owner, state__in=OPEN_STATES).first()
    invitation = found or _draft(site, owner, actor)
    end_links(invitation)
    stop_queued(invitation=invitation)
    now = timezone.now()
    move(
        invitation,
        since=OPEN_STATES,
        to=InvitationState.SENT,
        what="letter_printed",
        member=actor,
        send_number=invitation.send_number + 1,
        sent_at=now,
        expires_at=now + held.lasting(invitation),
    )
    _audit("print_letter", invitation, actor)
    code = mint_letter_code(invitation=invitation, send_number=invitation.send_number, printed_by=actor)
    return invitation, code


def _theirs(actor: Member, invitation: Invitation) -> Invitation:
    require(actor, Act.INVITE_OWNER)
    if invitation.company_id != actor.company_id or not may_see(actor, invitation.site):
        raise UnknownInvitation
    return Invitation.objects.select_related("company__policy", "site__company", "owner").get(pk=invitation.pk)


def _owns(owner: Owner, site: Site) -> bool:
    return Ownership.objects.filter(owner=owner, site=site, until__isnull=True).exists()


def _accepted(site: Site, owner: Owner) -> bool:
    return Invitation.objects.filter(site=site, owner=owner, state=InvitationState.ACCEPTED).exists()


def _refuse_second(site: Site, owner: Owner) -> None:
    if _accepted(site, owner) and owner.user_id is not None:
        raise AlreadyAccepted
    standing = Invitation.objects.filter(site=site, owner=owner, state__in=OPEN_STATES).first()
    if standing is not None:
        raise AlreadyInvited(invitation=str(standing.public_id))


def _draft(site: Site, owner: Owner, actor: Member | None) -> Invitation:
    try:
        with transaction.atomic():
            invitation = Invitation.objects.create(company=site.company, site=site, owner=owner, invited_by=actor)
    except IntegrityError as error:
        raise AlreadyInvited from error
    note(invitation, "made", member=actor)
    reindex([site.pk])
    return invitation


def _audit(act: str, invitation: Invitation, actor: Member | None) -> None:
    record_act(
        act=act,
        company=invitation.company,
        about=invitation,
        actor=actor,
        role="" if actor else "system",
        site=invitation.site,
        after={"state": invitation.state, "held_reason": invitation.held_reason},
    )
