"""Inviting members, changing what they may do, and letting them go."""

import hashlib
import secrets
from datetime import timedelta

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.module_loading import import_string
from django.utils.translation import gettext_lazy as _

from fleet.models import ApiToken, Assignment, Member, MemberInvitation, Role, User
from fleet.operations.addresses import confirm_address
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import BadInput, Conflicting, NotThere
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.sessions import end_sessions
from fleet.passwords import password_problems, words_about

INVITATION_LASTS = timedelta(days=7)


class UnknownMember(NotThere):
    """No such member of this company."""

    code = "unknown_member"


class BadMember(BadInput):
    """The address, the role or the password cannot be used."""

    code = "bad_member"


class AlreadyMember(Conflicting):
    """That person is a member, or is invited already."""

    code = "already_member"
    sentence = _("This address is a member or is invited already. Nothing was sent.")


class LastAdministrator(Conflicting):
    """A company keeps at least one active administrator."""

    code = "last_administrator"
    sentence = _("This is the last administrator. Make somebody else an administrator first; nothing was changed.")


class InvitationOver(NotThere):
    """The link is unknown, used, cancelled or too old."""

    code = "invitation_over"
    sentence = _("This link is not valid any more. Ask an administrator of the company for a new invitation.")


class SignInFirst(Conflicting):
    """The address has an account already: its person signs in and follows the link again."""

    code = "sign_in_first"
    sentence = _("This address has an account already. Sign in with it, then open the link again.")


@unchanged_if_refused
def invite_member(*, actor: Member, email: str, role: str, name: str = "") -> MemberInvitation:
    """Queue the mail that offers a membership; the link lasts a week. Raises BadMember, AlreadyMember, NotAllowed."""
    require(actor, Act.MANAGE_COMPANY)
    email = email.strip()
    try:
        validate_email(email)
    except ValidationError as error:
        raise BadMember(_("This e-mail address cannot be used. Nothing was sent."), field="email") from error
    if role not in Role.values or len(name) > 120:
        raise BadMember(_("Choose one of the roles. Nothing was sent."), field="role")
    if Member.objects.filter(company=actor.company, user__email__iexact=email, active=True).exists():
        raise AlreadyMember
    token, now = secrets.token_urlsafe(32), timezone.now()
    try:
        with transaction.atomic():
            _close_expired(actor, email)
            invitation = MemberInvitation.objects.create(
                company=actor.company, email=email, name=name.strip(), role=role, token_hash=token_hash(token),
                invited_by=actor, expires_at=now + INVITATION_LASTS,
            )  # fmt: skip
            _queue_mail(actor, invitation, token)
            record_act(
                act="invite_member", company=actor.company, about=invitation, actor=actor,
                after={"email": email, "role": role},
            )  # fmt: skip
    except IntegrityError as error:
        raise AlreadyMember from error
    return invitation


@unchanged_if_refused
def accept_member_invitation(*, token: str, user: User | None = None, name: str = "", password: str = "") -> Member:
    """Make the invited person a member, once. A signed-in ``user`` must have the invited address; otherwise a new
    account is made with ``password``.

    Raises InvitationOver, SignInFirst, BadMember (password), AlreadyMember.
    """
    invitation = open_member_invitation(token)
    if invitation is None:
        raise InvitationOver
    if user is not None and user.email.lower() != invitation.email.lower():
        raise InvitationOver(_("This invitation is for another address. Sign out and open the link again."))
    if user is None and User.objects.filter(email__iexact=invitation.email).exists():
        raise SignInFirst
    with transaction.atomic():
        won = MemberInvitation.objects.filter(
            pk=invitation.pk, accepted_at__isnull=True, cancelled_at__isnull=True
        ).update(accepted_at=timezone.now())
        if not won:
            raise InvitationOver
        user = user or _new_user(invitation, name, password)
        confirm_address(user)  # the link came by mail
        member = _join(invitation, user)
        record_act(
            act="join_company", company=member.company, about=member, user=user, role=member.role,
            after={"role": member.role},
        )  # fmt: skip
    return member


def open_member_invitation(token: str) -> MemberInvitation | None:
    """The invitation that a link's token opens now, if any."""
    return (
        MemberInvitation.objects.filter(
            token_hash=token_hash(token),
            accepted_at__isnull=True,
            cancelled_at__isnull=True,
            expires_at__gt=timezone.now(),
        )
        .select_related("company")
        .first()
    )


@unchanged_if_refused
def cancel_member_invitation(*, actor: Member, invitation: MemberInvitation) -> None:
    """Withdraw an offer; its link is dead at once. Raises UnknownMember, NotAllowed."""
    require(actor, Act.MANAGE_COMPANY)
    with transaction.atomic():
        won = MemberInvitation.objects.filter(
            pk=invitation.pk, company_id=actor.company_id, accepted_at__isnull=True, cancelled_at__isnull=True
        ).update(cancelled_at=timezone.now())
        if not won:
            raise UnknownMember
        record_act(act="cancel_member_invitation", company=actor.company, about=invitation, actor=actor)


@unchanged_if_refused
def change_role(*, actor: Member, member: Member, role: str) -> Member:
    """Give an active member another role. Raises UnknownMember, BadMember, LastAdministrator, NotAllowed."""
    require(actor, Act.MANAGE_COMPANY)
    if role not in Role.values:
        raise BadMember(_("Choose one of the roles. Nothing was changed."), field="role")
    with transaction.atomic():
        member = _locked(actor, member)
        if member.role == Role.ADMINISTRATOR and role != Role.ADMINISTRATOR:
            _keep_an_administrator(member)
        before = member.role
        Member.objects.filter(pk=member.pk).update(role=role)
        record_act(
            act="change_role", company=actor.company, about=member, actor=actor,
            before={"role": before}, after={"role": role},
        )  # fmt: skip
    member.refresh_from_db()
    return member


@unchanged_if_refused
def deactivate_member(*, actor: Member, member: Member, hand_to: Member | None = None) -> Member:
    """Let a member go: sessions and tokens end at once, assignments pass to ``hand_to`` or end.

    Raises UnknownMember, LastAdministrator, NotAllowed.
    """
    require(actor, Act.MANAGE_COMPANY)
    if hand_to is not None and (
        hand_to.company_id != actor.company_id or not hand_to.active or hand_to.pk == member.pk
    ):
        raise UnknownMember
    now = timezone.now()
    with transaction.atomic():
        member = _locked(actor, member)
        if member.role == Role.ADMINISTRATOR:
            _keep_an_administrator(member)
        Member.objects.filter(pk=member.pk).update(active=False, deactivated_at=now)
        ApiToken.objects.filter(member=member, revoked_at__isnull=True).update(revoked_at=now)
        handed = _hand_over_assignments(member, hand_to)
        end_sessions(member.user)
        record_act(
            act="deactivate_member", company=actor.company, about=member, actor=actor,
            after={"handed_to": str(hand_to.public_id) if hand_to else "", "assignments": handed},
        )  # fmt: skip
    member.refresh_from_db()
    return member


def token_hash(token: str) -> str:
    """SHA-256 of a token, as it is kept; hexadecimal."""
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def _queue_mail(actor: Member, invitation: MemberInvitation, token: str) -> None:
    import_string(settings.QUEUE_ACCOUNT_MAIL)(
        template="member_invitation",
        to_address=invitation.email,
        context={
            "link": settings.BASE_URL + reverse("fleet:join", args=[token]),
            "company": actor.company.name,
            "role": invitation.get_role_display(),
            "inviter": actor.user.get_full_name(),
        },
        language=actor.user.language or "en",
        company=actor.company,
    )


def _close_expired(actor: Member, email: str) -> None:
    MemberInvitation.objects.filter(
        company=actor.company, email__iexact=email, accepted_at__isnull=True, cancelled_at__isnull=True,
        expires_at__lte=timezone.now(),
    ).update(cancelled_at=timezone.now())  # fmt: skip


def _new_user(invitation: MemberInvitation, name: str, password: str) -> User:
    user = User(email=invitation.email, name=(name or invitation.name).strip()[:120])
    if problems := password_problems(password, words=(*words_about(user), invitation.company.name)):
        raise BadMember(field="password", errors={"password": problems})
    user.set_password(password)
    user.save(force_insert=True)
    return user


def _join(invitation: MemberInvitation, user: User) -> Member:
    member = Member.objects.filter(company=invitation.company, user=user).first()
    if member is None:
        return Member.objects.create(company=invitation.company, user=user, role=invitation.role)
    if member.active:
        raise AlreadyMember
    Member.objects.filter(pk=member.pk).update(active=True, deactivated_at=None, role=invitation.role)
    member.refresh_from_db()
    return member


def _locked(actor: Member, member: Member) -> Member:
    """The member's fresh row. All of the company's administrators are locked, so that two cannot step down at once."""
    list(
        Member.objects.select_for_update()
        .filter(company_id=actor.company_id, role=Role.ADMINISTRATOR)
        .order_by("pk")
        .values_list("pk", flat=True)
    )
    fresh = (
        Member.objects.select_for_update(of=("self",))
        .filter(pk=member.pk, company_id=actor.company_id, active=True)
        .select_related("company", "user")
        .first()
    )
    if fresh is None:
        raise UnknownMember
    return fresh


def _keep_an_administrator(member: Member) -> None:
    others = Member.objects.filter(company_id=member.company_id, role=Role.ADMINISTRATOR, active=True).exclude(
        pk=member.pk
    )
    if not others.exists():
        raise LastAdministrator


def _hand_over_assignments(member: Member, hand_to: Member | None) -> int:
    assignments = Assignment.objects.filter(member=member)
    count = assignments.count()
    if hand_to is not None:
        taken = Assignment.objects.filter(member=hand_to).values("site")
        assignments.exclude(site__in=taken).update(member=hand_to)
    Assignment.objects.filter(member=member).delete()
    return count
