"""Changing one's own address: asked for, confirmed by its mailbox, and stopped by the one before for 72 hours."""

import hashlib
import secrets
from contextlib import suppress
from datetime import timedelta

from django.conf import settings
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Company, User
from fleet.operations.addresses import confirm_address
from fleet.operations.audit import ActFacts, record_acts
from fleet.operations.refusals import BadInput, Conflicting, NotThere
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.sessions import end_sessions
from onboarding.mail.addresses import BadAddress, usable_address
from onboarding.models import AddressChange
from onboarding.operations.account_mail import queue_account_mail
from onboarding.operations.deliveries import UnusableAddress
from onboarding.operations.letter_answers import confirm_letter_answers
from onboarding.operations.owners_own import follow_account_address

GOOD_FOR = timedelta(hours=72)


class AddressLinkOver(NotThere):
    """The link is unknown, used, replaced by a later one or older than 72 hours."""

    code = "address_link_over"
    sentence = _("This link is not good any more. Nothing was changed; sign in and look at your address.")


class BadNewAddress(BadInput):
    """No other address that mail could be sent to."""

    code = "bad_new_address"


class AddressInUse(Conflicting):
    """Another account got the address meanwhile."""

    code = "address_in_use"
    sentence = _("Another account has this address. Nothing was changed; sign in there, or choose another address.")


@unchanged_if_refused
@transaction.atomic
def ask_address_change(*, user: User, address: str) -> AddressChange:
    """``user`` asks for another address. It takes the present one's place once its mailbox answers, not before.

    Both addresses get a mail. One that another account has gets none, and the answer does not tell. Raises
    BadNewAddress.
    """
    try:
        written = usable_address(address).written
    except BadAddress as error:
        told = _("This is not an address that mail could be sent to. Check it for typing mistakes.")
        raise BadNewAddress(errors={"address": [told]}) from error
    if written.casefold() == user.email.casefold():
        raise BadNewAddress(errors={"address": [_("This is your address already.")]})
    change, stop = _begin(user, written)
    _queue("address_change_asked", user.email, user, _page("stop_address", stop))
    _audit("ask_address_change", change)
    return change


@unchanged_if_refused
@transaction.atomic
def ask_confirmation(*, user: User, address: str = "") -> None:
    """Write to the address that ``user`` has, or is to have without one before: a link there confirms it."""
    _begin(user, address or user.email)


@unchanged_if_refused
@transaction.atomic
def call_off_change(*, user: User) -> None:
    """``user`` no longer wants the address that they asked for."""
    for change in _open(user):
        AddressChange.objects.filter(pk=change.pk).update(ended_at=timezone.now())
        _audit("call_off_address_change", change)


def pending_change(user: User) -> AddressChange | None:
    """The address that ``user`` waits to confirm, if any."""
    return _open(user)[0] if _open(user) else None


def change_to_confirm(token: str) -> AddressChange:
    """The change that a link to the new address opens now. Raises AddressLinkOver."""
    found = AddressChange.objects.select_related("user").filter(confirm_hash=_digest(token)).first()
    if found is None or found.confirmed_at or found.ended_at or _is_over(found):
        raise AddressLinkOver
    return found


def change_to_stop(token: str) -> AddressChange:
    """The change that a link to the address before opens now. Raises AddressLinkOver."""
    found = AddressChange.objects.select_related("user").filter(stop_hash=_digest(token)).first()
    if found is None or found.ended_at or _is_over(found):
        raise AddressLinkOver
    return found


@unchanged_if_refused
@transaction.atomic
def confirm_address_change(*, token: str) -> User:
    """The new address's mailbox answered: it is the account's from now on. Raises AddressLinkOver or AddressInUse."""
    change = change_to_confirm(token)
    fresh = AddressChange.objects.filter(pk=change.pk, confirmed_at__isnull=True, ended_at__isnull=True)
    if fresh.update(confirmed_at=timezone.now()) != 1:
        raise AddressLinkOver
    user = _give(change.user, change.address, letters=True)
    _audit("confirm_address_change", change)
    return user


@unchanged_if_refused
@transaction.atomic
def stop_address_change(*, token: str) -> User:
    """Who reads mail to the address before did not ask for another: theirs stays, or comes back.

    Whoever asked knew the password, so that one ends with every session; a link to a new one goes to the address.
    Raises AddressLinkOver or AddressInUse.
    """
    change = change_to_stop(token)
    if AddressChange.objects.filter(pk=change.pk, ended_at__isnull=True).update(ended_at=timezone.now()) != 1:
        raise AddressLinkOver
    for later in _open(change.user):
        AddressChange.objects.filter(pk=later.pk).update(ended_at=timezone.now())
    user = _give(change.user, change.before)
    user.set_unusable_password()
    user.save(update_fields=["password", "short_password"])
    end_sessions(user)
    _queue("password_reset", user.email, user, "")
    _audit("stop_address_change", change)
    return user


def _begin(user: User, address: str) -> tuple[AddressChange, str]:
    """A fresh request in place of earlier ones, and its link for the address before."""
    AddressChange.objects.filter(user=user, confirmed_at__isnull=True, ended_at__isnull=True).update(
        ended_at=timezone.now()
    )
    confirm, stop = secrets.token_urlsafe(32), secrets.token_urlsafe(32)
    change = AddressChange.objects.create(
        user=user, before=user.email, address=address, confirm_hash=_digest(confirm), stop_hash=_digest(stop)
    )
    if not User.objects.filter(email__iexact=address).exclude(pk=user.pk).exists():
        _queue("address_confirm", address, user, _page("confirm_address", confirm))
    return change, stop


def _give(user: User, address: str, *, letters: bool = False) -> User:
    """The account has ``address``, which its mailbox has confirmed."""
    user = User.objects.select_for_update().get(pk=user.pk)
    user.email = address
    try:
        with transaction.atomic():
            user.save(update_fields=["email"])
    except IntegrityError as error:
        raise AddressInUse from error
    confirm_address(user)
    if letters:
        confirm_letter_answers(user=user)
    follow_account_address(user=user, email=address)
    return user


def _open(user: User) -> list[AddressChange]:
    since = timezone.now() - GOOD_FOR
    asked = AddressChange.objects.filter(user=user, confirmed_at__isnull=True, ended_at__isnull=True)
    return list(asked.filter(asked_at__gt=since).order_by("-id"))


def _is_over(change: AddressChange) -> bool:
    return change.asked_at + GOOD_FOR <= timezone.now()


def _queue(template: str, address: str, user: User, link: str) -> None:
    with suppress(UnusableAddress):  # an owner without e-mail signs in by a name that no mail reaches
        queue_account_mail(
            template=template, to_address=address, context={"link": link} if link else {}, language=user.language,
            user=user,
        )  # fmt: skip


def _page(name: str, token: str) -> str:
    return settings.BASE_URL + reverse(f"onboarding:{name}", args=[token])


def _digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8", "replace")).hexdigest()


def _audit(act: str, change: AddressChange) -> None:
    """Every company that knows the person keeps that it was done; the addresses themselves are no company's."""
    user = change.user
    known_to = Company.objects.filter(members__user=user) | Company.objects.filter(owners__user=user)
    record_acts(
        ActFacts(act=act, company=company, about=change, user=user, role="account")
        for company in known_to.distinct().order_by("pk")
    )
