"""Queueing a mail, and stopping it before it leaves."""

from datetime import datetime, timedelta
from typing import Any
from uuid import uuid4

from django.conf import settings
from django.core.cache import cache
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Company, Site, User
from fleet.operations.refusals import BadInput
from fleet.wake import wake
from onboarding.mail.addresses import BadAddress, UsableAddress, usable_address
from onboarding.mail.return_path import message_id, new_return_token
from onboarding.models import Delivery, DeliveryState, Invitation, Owner, Stream
from onboarding.operations.suppressions import remembered_as

LEGAL_BASES = {
    Stream.INVITATION: "consent",
    Stream.REMINDER: "consent",
    Stream.COURTESY: "consent",
    Stream.ACCOUNT: "contract",
    Stream.RECEIPT: "legal_obligation",
    Stream.SAFETY: "vital_interest",
}
"""What each stream rests on, after Article 6(1) of the GDPR (Regulation (EU) 2016/679)."""

BY_PERMISSION = frozenset({Stream.INVITATION, Stream.REMINDER, Stream.COURTESY})
"""Streams that need the owner's ``contact`` permission at the moment of sending."""

GIVE_UP_AFTER = {Stream.ACCOUNT: timedelta(days=1)}
GIVE_UP_ELSE = timedelta(days=4)  # RFC 5321 section 4.5.4.1: at least 4 to 5 days
_WAKE_KEY = "onboarding:sender-woken"


class UnusableAddress(BadInput):
    """The address is not one that mail could be sent to."""

    code = "unusable_address"
    sentence = _("This is not an address that mail can be sent to. Nothing was queued; correct the address.")


def queue_delivery(
    *,
    stream: str,
    template: str,
    to_address: str,
    language: str,
    company: Company | None = None,
    context: dict[str, Any] | None = None,
    invitation: Invitation | None = None,
    owner: Owner | None = None,
    user: User | None = None,
    site: Site | None = None,
    not_before: datetime | None = None,
) -> Delivery:
    """Queue one deliberate send and wake the sender. Queueing the same send of an invitation again returns its row.

    With an invitation the send number is the invitation's as it stands. Raises UnusableAddress, AddressKeyNotHere.
    """
    address = _address(to_address)
    mac, mac_key = remembered_as(company.pk, address.written) if company else ("", "")
    number = invitation.send_number if invitation else 1
    public_id, now = uuid4(), timezone.now()
    values = {
        "public_id": public_id,
        "company": company,
        "owner": owner or (invitation.owner if invitation else None),
        "user": user,
        "site": site or (invitation.site if invitation else None),
        "stream": stream,
        "legal_basis": LEGAL_BASES[Stream(stream)],
        "template": template,
        "context": context or {},
        "language": language,
        "to_address": address.written,
        "to_domain": address.domain,
        "address_mac": mac,
        "mac_key": mac_key,
        "message_id": message_id(invitation.public_id if invitation else public_id, number, _mail_domain()),
        "return_token": new_return_token(),
        "not_before": not_before or now,
        "give_up_at": (not_before or now) + GIVE_UP_AFTER.get(Stream(stream), GIVE_UP_ELSE),
    }
    with transaction.atomic():
        if invitation:
            delivery, _made = Delivery.objects.get_or_create(invitation=invitation, send_number=number, defaults=values)
        else:
            delivery = Delivery.objects.create(send_number=number, **values)
        wake_sender()
    return delivery


def wake_sender() -> None:
    """Wake the sender once the transaction has committed; wake-ups that nobody has heeded yet are not repeated."""
    transaction.on_commit(_wake_once, robust=True)


def sender_is_awake() -> None:
    """Told by the sender when it starts: the next wake-up counts again."""
    cache.delete(_WAKE_KEY)


def _wake_once() -> None:
    if cache.add(_WAKE_KEY, 1, timeout=30):
        wake("onboarding.tasks.sweep_deliveries")


def stop_queued(*, invitation: Invitation, reason: str = "cancelled") -> int:
    """Stop what has not left yet for ``invitation``; returns how many. What is transmitting is not called back."""
    return stop(Delivery.objects.filter(invitation=invitation), reason=reason)


def stop(mails: QuerySet[Delivery], *, reason: str) -> int:
    """Stop those of ``mails`` that have not left yet; returns how many."""
    return mails.filter(state__in=(DeliveryState.QUEUED, DeliveryState.CLAIMED)).update(
        state=DeliveryState.STOPPED, reply_class=reason, ended_at=timezone.now(), claim=None, claimed_until=None
    )


def settle_by_opening(*, invitation: Invitation) -> int:
    """Its link was opened, so an unknown delivery of ``invitation`` did arrive; returns how many were settled."""
    unknown = Delivery.objects.filter(invitation=invitation, state=DeliveryState.UNKNOWN)
    return unknown.update(state=DeliveryState.SENT, reply_class="opened", ended_at=timezone.now())


def _address(text: str) -> UsableAddress:
    try:
        return usable_address(text)
    except BadAddress as error:
        raise UnusableAddress(field="email") from error


def _mail_domain() -> str:
    return str(settings.MAIL_FROM).rpartition("@")[2]
