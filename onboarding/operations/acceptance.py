"""The owner's side of an invitation: opening, accepting, saying "not me", asking for a new link."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Site, User
from fleet.operations.addresses import confirm_address, is_confirmed, leave_unconfirmed
from fleet.operations.audit import record_act
from fleet.operations.refusals import BadInput, Conflicting
from fleet.operations.rollback import unchanged_if_refused
from fleet.passwords import password_problems
from onboarding.mail.addresses import BadAddress, usable_address
from onboarding.models import ConsentState, Invitation, InvitationLink, InvitationState, Owner, Stream, Suppression
from onboarding.models.invitation import OPEN_STATES
from onboarding.operations import held
from onboarding.operations.address_change import ask_confirmation
from onboarding.operations.consents import OwnersWord, confirm_consents, disown
from onboarding.operations.deliveries import queue_delivery, settle_by_opening, stop_queued
from onboarding.operations.invitation_links import FoundLink, LinkUsed, find_link, good_link
from onboarding.operations.invitation_states import end_links, move
from onboarding.operations.invitations import replace_invitation
from onboarding.operations.ledger import lock_head
from onboarding.operations.suppressions import suppress
from onboarding.queries.invitation_list import successor

OPENABLE = (
    InvitationState.HELD,
    InvitationState.QUEUED,
    InvitationState.SENT,
    InvitationState.OPENED,
    InvitationState.BOUNCED,
    InvitationState.FAILED,
)
BETWEEN_RENEWALS = timedelta(hours=1)
NO_MAIL_DOMAIN = "letter.invalid"  # RFC 6761: never a real domain; such an account cannot be sent mail


class SignInFirst(Conflicting):
    """The address has an account already: its person signs in; the link never sets that password."""

    code = "sign_in_first"
    sentence = _("There is an account with this address already. Sign in with it, and the site is added to it.")


class WrongAccount(Conflicting):
    """Somebody else is signed in; ``facts["address"]`` is the invited address, masked."""

    code = "wrong_account"
    sentence = _("You are signed in as somebody else. Sign out and open the link again. Nothing was changed.")


class AccountTaken(Conflicting):
    """The account belongs to another owner row of the same company."""

    code = "account_taken"
    sentence = _(
        "This account stands for another owner in the company's register. Nothing was changed; "
        "call the company, who can join the two."
    )


class BadChoices(BadInput):
    """The form cannot be used; ``facts["errors"]`` maps fields to messages."""

    code = "bad_choices"


@dataclass(frozen=True)
class Acceptance:
    """What came of accepting."""

    invitation: Invitation
    owner: Owner
    site: Site
    user: User
    created: bool


@unchanged_if_refused
def open_invitation(*, token: str) -> Invitation:
    """The owner pressed *Continue*: the first of them marks the invitation as opened. Raises a Link… refusal."""
    with transaction.atomic():
        found = good_link(token)
        lock_head(found.invitation.company)
        now = timezone.now()
        move(
            found.invitation,
            since=[state for state in OPENABLE if state != InvitationState.OPENED],
            to=InvitationState.OPENED,
            opened_at=now,
        )
        settle_by_opening(invitation=found.invitation)
    return found.invitation


def account_for(invitation: Invitation) -> User | None:
    """The account that the invited person already has: by the owner row, else by the address."""
    owner = invitation.owner
    if owner.user_id is not None:
        return owner.user
    return User.objects.filter(email__iexact=owner.email).first() if owner.email else None


@unchanged_if_refused
def accept_invitation(
    *,
    token: str,
    choices: Mapping[str, bool],
    password: str | None = None,
    email: str = "",
    signed_in: User | None = None,
    session: str = "",
) -> Acceptance:
    """Accept once: an account with the owner's own password, or the signed-in one; then each answer as strong entry.

    ``email`` is asked only of an owner whose address the company does not know. Of several at once exactly one wins;
    the others get LinkUsed. Raises a Link… refusal, SignInFirst, WrongAccount, AccountTaken, BadConsent or BadChoices.
    """
    with transaction.atomic():
        found = good_link(token)
        invitation, owner = found.invitation, found.invitation.owner
        lock_head(invitation.company)
        user, created = _account(found, signed_in, password, email)
        now = timezone.now()
        if not move(
            invitation,
            since=OPENABLE,
            to=InvitationState.ACCEPTED,
            indexed=False,  # recording the answers does it
            accepted_at=now,
            opened_at=invitation.opened_at or now,
        ):
            raise LinkUsed
        _attach(owner, user, by_letter=found.link.kind == InvitationLink.Kind.LETTER)
        _settle_address(found, user, email, created)
        end_links(invitation)
        stop_queued(invitation=invitation)
        settle_by_opening(invitation=invitation)
        word = OwnersWord(user=user, session=session, by_link=True)
        entries = confirm_consents(word=word, owner=owner, site=invitation.site, choices=choices)
        record_act(
            act="accept_invitation",
            company=invitation.company,
            about=invitation,
            user=user,
            role="owner",
            site=invitation.site,
            after={"account": "new" if created else "existing"},
        )
        _queue_receipt(invitation, user, [str(entry.entry_id) for entry in entries])
    return Acceptance(invitation, owner, invitation.site, user, created)


@unchanged_if_refused
def decline_as_stranger(*, token: str) -> None:
    """*Not me*: the matter ends, the address is written to no more, the office is told. Raises a Link… refusal."""
    with transaction.atomic():
        found = good_link(token)
        invitation = found.invitation
        lock_head(invitation.company)
        if not move(invitation, since=OPEN_STATES, to=InvitationState.CANCELLED, what="not_me"):
            raise LinkUsed
        end_links(invitation)
        stop_queued(invitation=invitation)
        disown(site=invitation.site, owner=invitation.owner, state=ConsentState.INVALIDATED)
        if invitation.owner.email:
            suppress(company=invitation.company, address=invitation.owner.email, reason=Suppression.Reason.NOT_ME)
        record_act(
            act="decline_invitation",
            company=invitation.company,
            about=invitation,
            role="recipient",
            site=invitation.site,
        )


@unchanged_if_refused
def renew(*, token: str) -> None:
    """The owner asks for a new link from an old one. Says nothing: known and unknown links get the same answer.

    A mail leaves only for an invitation that ran out or whose link was replaced, or for the one that came after it, at
    most once an hour, and only where permission to write stands.
    """
    found = find_link(token)
    if found is None:
        return
    with transaction.atomic():
        invitation = found.invitation
        lock_head(invitation.company)
        invitation.refresh_from_db()
        if (later := successor(invitation)) is not None:
            invitation = later  # whoever kept an old link means what stands now
        if held.hold_reason(invitation.site, invitation.owner) or _renewed_lately(invitation):
            return
        if invitation.state == InvitationState.EXPIRED:
            replace_invitation(invitation, actor=None)
        elif invitation.state in (InvitationState.SENT, InvitationState.OPENED):
            end_links(invitation)
            held.send(invitation, since=(invitation.state,), what="renewed")


def _renewed_lately(invitation: Invitation) -> bool:
    since = timezone.now() - BETWEEN_RENEWALS
    return InvitationLink.objects.filter(invitation=invitation, made_at__gte=since).exists()


def _account(found: FoundLink, signed_in: User | None, password: str | None, email: str) -> tuple[User, bool]:
    existing = account_for(found.invitation)
    if signed_in is not None:
        by_letter = existing is None and not found.invitation.owner.email
        if not by_letter and signed_in != existing:
            raise WrongAccount(address=masked(found.invitation.owner.email))
        return signed_in, False
    if existing is not None:
        raise SignInFirst
    return _new_account(found, password or "", email), True


def _new_account(found: FoundLink, password: str, email: str) -> User:
    invitation, owner = found.invitation, found.invitation.owner
    wanted = owner.email or _typed_address(email)
    proven = found.link.kind == InvitationLink.Kind.MAIL and bool(owner.email)
    address = wanted if proven else f"{invitation.site.code.lower()}.{invitation.pk}@{NO_MAIL_DOMAIN}"
    errors = password_problems(password, words=(*context_words(invitation), wanted, address))
    if errors:
        raise BadChoices(errors={"password": errors})
    try:
        with transaction.atomic():
            user = User.objects.create_user(email=address, password=password, name=owner.name, language=owner.language)
    except IntegrityError as error:
        raise SignInFirst from error
    return user


def _settle_address(found: FoundLink, user: User, email: str, created: bool) -> None:
    """A mailed link confirms the address it went to; who came by a letter has theirs confirmed by a mail of its own."""
    known = found.invitation.owner.email
    if found.link.kind == InvitationLink.Kind.MAIL and known.casefold() == user.email.casefold():
        confirm_address(user, fresh=created)
    elif user.email.endswith(f"@{NO_MAIL_DOMAIN}") and (wanted := known or _typed_address(email)):
        leave_unconfirmed(user)
        ask_confirmation(user=user, address=wanted)


def _typed_address(email: str) -> str:
    if not email.strip():
        return ""
    try:
        return usable_address(email).written
    except BadAddress as error:
        told = _("This is not an address that mail could be sent to. Check it for typing mistakes.")
        raise BadChoices(errors={"email": [told]}) from error


def context_words(invitation: Invitation) -> tuple[str, ...]:
    """What a stranger who knows the roof would try first: names, company, street, town, site code."""
    site = invitation.site
    return (invitation.owner.name, invitation.company.name, site.name, site.street, site.town, site.code)


def _attach(owner: Owner, user: User, *, by_letter: bool) -> None:
    """The account stands for the owner. Who came by a letter is taken at their word once the mailbox that the register
    knows has answered, which it has where it is a confirmed account's own.
    """
    if owner.user_id == user.pk:
        return
    owner.account_by_letter = by_letter and not (
        owner.email and owner.email.casefold() == user.email.casefold() and is_confirmed(user)
    )
    try:
        with transaction.atomic():
            Owner.objects.filter(pk=owner.pk).update(user=user, account_by_letter=owner.account_by_letter)
    except IntegrityError as error:
        raise AccountTaken from error
    owner.user = user


def _queue_receipt(invitation: Invitation, user: User, entry_ids: list[str]) -> None:
    if not invitation.owner.email:
        return
    queue_delivery(
        stream=Stream.RECEIPT,
        template="receipt",
        to_address=invitation.owner.email,
        language=invitation.owner.language,
        company=invitation.company,
        context={"entries": entry_ids} | ({"by_letter": True} if invitation.owner.account_by_letter else {}),
        owner=invitation.owner,
        user=user,
        site=invitation.site,
    )


def masked(address: str) -> str:
    """``m…a@example.com``: enough for its person to recognise, too little for anybody else to write to."""
    local, _at, domain = address.rpartition("@")
    if not local:
        return "…"
    shown = local[0] + "…" + (local[-1] if len(local) > 3 else "")
    return f"{shown}@{domain}"
