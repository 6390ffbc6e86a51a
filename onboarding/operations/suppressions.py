"""Addresses that a company must not write to."""

from django.db import IntegrityError, transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Company, Member
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import BadInput, Conflicting, NotThere
from fleet.operations.rollback import unchanged_if_refused
from onboarding.addresses import address_key, every_address_key, mailbox_of, new_mac_key
from onboarding.models import Delivery, DeliveryState, Suppression
from onboarding.operations.keys import require_address_keys

NOT_SENT = (DeliveryState.QUEUED, DeliveryState.CLAIMED)
SAID_NO = (Suppression.Reason.UNSUBSCRIBED, Suppression.Reason.COMPLAINED, Suppression.Reason.NOT_ME)


class AlreadyLifted(Conflicting):
    """It was lifted before."""

    code = "already_lifted"
    sentence = _("This entry was lifted already.")


class UnknownSuppression(NotThere):
    """Not an entry of this company."""

    code = "unknown_suppression"


class NoAddress(BadInput):
    """There is no address to enter."""

    code = "no_address"
    sentence = _("Give the address that must not be written to.")


@unchanged_if_refused
@transaction.atomic
def suppress(*, company: Company, address: str, reason: str, actor: Member | None = None) -> Suppression:
    """Stop mail of ``company`` to ``address``; an entry that stands already is returned as it is.

    Raises NoAddress, AddressKeyNotHere, and NotAllowed when a member who may not do it enters one.
    """
    if actor is not None:
        require(actor, Act.LIFT_SUPPRESSION)
    if "@" not in address:
        raise NoAddress(field="address")
    require_address_keys()
    keys = every_address_key(company.pk, address)
    waiting = Delivery.objects.filter(company=company, address_mac__in=keys[1:])
    waiting.filter(state__in=NOT_SENT).update(address_mac=keys[0], mac_key=new_mac_key())  # or they would not be held
    return _enter(company, keys, new_mac_key(), address.strip(), reason, actor)


def standing_suppression(*, company_id: int, address: str) -> Suppression | None:
    """The entry for which ``address`` is not to be invited: its own, or another tag's of the same mailbox whose person
    said no. Looked up under every key that is held, as what was erased keeps the one it had. Raises AddressKeyNotHere.
    """
    require_address_keys()
    own = Q(address_mac__in=every_address_key(company_id, address))
    said_no = Q(mailbox_mac__in=every_address_key(company_id, mailbox_of(address)), reason__in=SAID_NO)
    standing = Suppression.objects.filter(own | said_no, company=company_id, lifted_at__isnull=True)
    return standing.order_by("id").first()


@transaction.atomic
def suppress_recipient(*, delivery: Delivery, reason: str) -> Suppression | None:
    """Stop mail of the company to whom ``delivery`` went, also where the address itself was erased since.

    None where nothing is left to know the address by.
    """
    if delivery.company is None or not (delivery.to_address or delivery.address_mac):
        return None
    if delivery.to_address:
        return suppress(company=delivery.company, address=delivery.to_address, reason=reason)
    return _enter(delivery.company, [delivery.address_mac], delivery.mac_key, "", reason, None)


def _enter(
    company: Company, keys: list[str], mac_key: str, address: str, reason: str, actor: Member | None
) -> Suppression:
    """The entry under the first of ``keys``, unless one stands under any of them."""
    standing = Suppression.objects.filter(company=company, address_mac__in=keys, lifted_at__isnull=True)
    if (found := standing.first()) is not None:
        return found
    try:
        with transaction.atomic():
            made = Suppression.objects.create(
                company=company,
                address_mac=keys[0],
                mailbox_mac=address_key(company.pk, mailbox_of(address)) if address else keys[0],
                mac_key=mac_key,
                address=address,
                reason=reason,
            )
    except IntegrityError:
        return standing.get()
    record_act(
        act="suppress_address",
        company=company,
        about=made,
        actor=actor,
        after={"reason": reason, "address": address},
    )
    return made


@unchanged_if_refused
@transaction.atomic
def lift_suppression(*, actor: Member, suppression: Suppression) -> None:
    """Let mail to the address leave again. Raises NotAllowed, UnknownSuppression or AlreadyLifted."""
    require(actor, Act.LIFT_SUPPRESSION)
    if suppression.company_id != actor.company_id:
        raise UnknownSuppression
    lifted = Suppression.objects.filter(pk=suppression.pk, lifted_at__isnull=True).update(
        lifted_at=timezone.now(), lifted_by=actor
    )
    if lifted != 1:
        raise AlreadyLifted
    record_act(act="lift_suppression", company=actor.company, about=suppression, actor=actor)


def lift_by_owner(*, company: Company, address: str) -> None:
    """The owner allows mail again on My site: ends their own unsubscribe, not a bounce. Within a transaction."""
    require_address_keys()
    Suppression.objects.filter(
        company=company,
        address_mac__in=every_address_key(company.pk, address),
        reason=Suppression.Reason.UNSUBSCRIBED,
        lifted_at__isnull=True,
    ).update(lifted_at=timezone.now())


def remembered_as(company_id: int, address: str) -> tuple[str, str]:
    """The hash that a mail to ``address`` is known by, and the id of its key.

    That of the entry that stands for the address, where one made with an older key does; or the mail would slip past it
    when it is let go. Raises AddressKeyNotHere.
    """
    require_address_keys()
    keys = every_address_key(company_id, address)
    if len(keys) > 1:
        standing = Suppression.objects.filter(company=company_id, address_mac__in=keys, lifted_at__isnull=True)
        if (found := standing.first()) is not None:
            return found.address_mac, found.mac_key
    return keys[0], new_mac_key()
