"""Whether the keys at hand are those that the rows were made with."""

from fleet.keys import ADDRESS, LEDGER, KeyMissing, address_keys, key_id, ledger_key
from onboarding.ledger.chain import entry_mac, same_mac
from onboarding.models import ConsentEntry, KeyFingerprint


def key_faults() -> list[str]:
    """One sentence for each kind of key that is not in place."""
    return [fault for fault in (ledger_fault(), address_fault()) if fault]


def ledger_fault() -> str:
    """Why the ledger key cannot be used, or nothing where it can."""
    try:
        key = ledger_key()
    except KeyMissing:
        return "The ledger key is missing: put it back (ROOFTALLY_LEDGER_KEY, or ledger-key in the data folder)."
    known = KeyFingerprint.objects.filter(use=LEDGER).values_list("key", flat=True).first()
    if known == key_id(LEDGER, key) or (known is None and wrote_last_entry(key)):
        return ""
    return (
        f"The ledger key is another than the one that this ledger was written with (here {key_id(LEDGER, key)}, "
        f"the ledger’s {known or 'unknown'}): put that one back. No entry is written or judged until then."
    )


def wrote_last_entry(key: str) -> bool:
    """Whether the newest entry of the database was made with ``key``; also where there is none."""
    last = ConsentEntry.objects.order_by("-pk").first()
    return last is None or same_mac(entry_mac(key, last.previous_mac, last.canonical), last.mac)


def address_fault() -> str:
    """Why addresses cannot be recognised, or nothing where they can."""
    try:
        held = {key_id(ADDRESS, key) for key in address_keys()}
    except KeyMissing:
        return "The address key is missing: put it back (ROOFTALLY_ADDRESS_KEYS, or address-keys in the data folder)."
    known = KeyFingerprint.objects.filter(use=ADDRESS).order_by("pk").values_list("key", flat=True)
    if missing := [key for key in known if key not in held]:
        return (
            f"Addresses that must not be written to are known by keys that are not here ({', '.join(missing)}): add "
            "them to ROOFTALLY_ADDRESS_KEYS, or to address-keys in the data folder. No mail is queued until then."
        )
    return ""
