"""The installation's own keys besides Django's: the ledger's, and those that addresses are remembered by.

Neither can be made anew once something rests on it. So settings only read them; ``onboarding/operations/keys.py`` makes
them, for a database in which nothing does, and compares their fingerprints with the database's afterwards.
"""

import hashlib
import hmac
from pathlib import Path

from django.conf import settings

from fleet.config.environment import kept_secret, read_secrets

LEDGER, ADDRESS = "ledger", "address"


class KeyMissing(Exception):
    """There is no such key in the settings or in the data folder."""


def ledger_key() -> str:
    """The key of the consent ledger. Raises KeyMissing."""
    found = settings.LEDGER_KEY or next(iter(read_secrets(_file("ledger-key"))), "")
    if not found:
        raise KeyMissing(LEDGER)
    return str(found)


def address_keys() -> list[str]:
    """The keys of address hashes, the one for new hashes first. Raises KeyMissing."""
    found = list(settings.ADDRESS_KEYS) or read_secrets(_file("address-keys"))
    if not found:
        raise KeyMissing(ADDRESS)
    return found


def make_ledger_key() -> str:
    """A new key, kept in the data folder; the one that is there where another process was quicker."""
    return kept_secret(_file("ledger-key"))


def make_address_key(value: str = "") -> str:
    """A new key, or ``value``, kept in the data folder; the one that is there where another process was quicker."""
    return kept_secret(_file("address-keys"), value)


def key_id(use: str, key: str) -> str:
    """What a key is known by in the database: says nothing about the key, and no other has it."""
    return hmac.new(key.encode(), f"rooftally key for {use}".encode(), hashlib.sha256).hexdigest()[:16]


def _file(name: str) -> Path:
    return Path(settings.DATA_DIR) / name
