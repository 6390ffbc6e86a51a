"""Remembers addresses by the newest key instead of an older one, where the address is still there."""

from collections.abc import Callable, Iterator
from typing import TypeVar

from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from fleet.keys import ADDRESS
from onboarding.addresses import address_key, mailbox_of, new_mac_key
from onboarding.models import Delivery, KeyFingerprint, Owner, Suppression
from onboarding.operations.keys import require_address_keys
from onboarding.operations.suppressions import remembered_as

AT_ONCE = 500
Row = TypeVar("Row", Suppression, Delivery)


def rekey_addresses() -> Iterator[int]:
    """Go through entries, then mails, AT_ONCE to a transaction; yields how many of each batch were made anew.

    What was erased keeps the hash and the key that it has. May run again, and while people work. Raises
    AddressKeyNotHere.
    """
    require_address_keys()
    yield from _in_batches(Suppression.objects.exclude(address=""), _rekey_entry)
    yield from _in_batches(Delivery.objects.exclude(to_address="").filter(company__isnull=False), _rekey_mail)


def forget_unused_keys() -> list[str]:
    """Forget the fingerprints of older keys that no row needs any more; answers their ids."""
    older = KeyFingerprint.objects.filter(use=ADDRESS).exclude(key=new_mac_key())
    unused = [each for each in older if not rows_of(each.key)]
    KeyFingerprint.objects.filter(pk__in=[each.pk for each in unused]).delete()
    return [each.key for each in unused]


def rows_of(key: str) -> int:
    """How many rows rest on the address key with this id."""
    return sum(model._default_manager.filter(mac_key=key).count() for model in (Suppression, Delivery, Owner))


def _in_batches(rows: QuerySet[Row], rekey: Callable[[Row], int]) -> Iterator[int]:
    newest, last = new_mac_key(), 0
    while True:
        batch = list(rows.filter(pk__gt=last).exclude(mac_key=newest).exclude(address_mac="").order_by("pk")[:AT_ONCE])
        if not batch:
            return
        last = batch[-1].pk
        with transaction.atomic():
            done = sum(rekey(row) for row in batch)
        yield done


def _rekey_entry(entry: Suppression) -> int:
    made = {
        "address_mac": address_key(entry.company_id, entry.address),
        "mailbox_mac": address_key(entry.company_id, mailbox_of(entry.address)),
        "mac_key": new_mac_key(),
    }
    try:
        with transaction.atomic():
            return Suppression.objects.filter(pk=entry.pk, mac_key=entry.mac_key, address=entry.address).update(**made)
    except IntegrityError:  # the address was entered anew meanwhile, under the newest key
        return 0


def _rekey_mail(mail: Delivery) -> int:
    assert mail.company_id is not None  # noqa: S101  # asked for so
    mac, mac_key = remembered_as(mail.company_id, mail.to_address)
    same = Delivery.objects.filter(pk=mail.pk, mac_key=mail.mac_key, to_address=mail.to_address)
    return same.update(address_mac=mac, mac_key=mac_key)
