"""The keys that rows rest on: made while nothing does, then only ever compared."""

from django.utils.translation import gettext_lazy as _

from fleet.keys import ADDRESS, LEDGER, KeyMissing, address_keys, key_id, ledger_key, make_address_key, make_ledger_key
from fleet.operations.refusals import Unable
from onboarding.models import ConsentEntry, Delivery, KeyFingerprint, Owner, Suppression
from onboarding.queries.keys import address_fault, key_faults, ledger_fault


class LedgerKeyNotHere(Unable):
    """The key that the ledger was written with is missing, or another one stands in its place."""

    code = "ledger_key_not_here"
    sentence = _(
        "The key of the consent ledger is not in place, so nothing about permissions can be recorded. Nothing was "
        "changed; whoever runs this installation has to put the key back."
    )


class AddressKeyNotHere(Unable):
    """A key that addresses were remembered by is missing: somebody who said no could not be recognised."""

    code = "address_key_not_here"
    sentence = _(
        "A key is missing by which addresses are recognised that must not be written to, so no mail is prepared. "
        "Nothing was changed; whoever runs this installation has to put the key back."
    )


def require_ledger_key() -> str:
    """The key to write an entry with. Raises LedgerKeyNotHere."""
    if ledger_fault():
        raise LedgerKeyNotHere
    key = ledger_key()
    KeyFingerprint.objects.get_or_create(use=LEDGER, key=key_id(LEDGER, key))
    return key


def require_address_keys() -> None:
    """Have every key that addresses were remembered by, and the first one known. Raises AddressKeyNotHere."""
    if address_fault():
        raise AddressKeyNotHere
    KeyFingerprint.objects.get_or_create(use=ADDRESS, key=key_id(ADDRESS, address_keys()[0]))


def settle_keys() -> list[str]:
    """Make the keys that are missing where nothing rests on them yet; answers what is not in place then."""
    _settle_ledger_key()
    _settle_address_keys()
    return key_faults()


def _settle_ledger_key() -> None:
    try:
        ledger_key()
    except KeyMissing:
        if ConsentEntry.objects.exists() or KeyFingerprint.objects.filter(use=LEDGER).exists():
            return
        make_ledger_key()
    if not ledger_fault():
        require_ledger_key()


def _settle_address_keys() -> None:
    """A house that remembered addresses by the ledger key before there was another goes on with that one."""
    try:
        address_keys()
    except KeyMissing:
        known = set(KeyFingerprint.objects.filter(use=ADDRESS).values_list("key", flat=True))
        if not known and not _remembers_addresses():
            make_address_key()
        elif not ledger_fault() and known == {key_id(ADDRESS, ledger_key())}:
            make_address_key(ledger_key())
        else:
            return
    if not address_fault():
        require_address_keys()


def _remembers_addresses() -> bool:
    return any(model.objects.exclude(address_mac="").exists() for model in (Suppression, Delivery, Owner))
