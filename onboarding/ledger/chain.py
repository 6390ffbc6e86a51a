"""Canonical JSON, the HMAC chain over it, and salted commitments to personal values.

Sources: RFC 8785 (JSON Canonicalization Scheme) and RFC 2104/RFC 4231 (HMAC-SHA-256).
"""

import hashlib
import hmac
import json
import secrets
from datetime import UTC, datetime
from typing import Any

import rfc8785

SCHEMA_VERSION = 1
SALT_BYTES = 16

Sealed = dict[str, tuple[str, Any]]
"""Personal values as they are kept: ``{field: (salt, value)}``; erasing a field removes its pair."""


def canonical_json(document: dict[str, Any]) -> str:
    """``document`` in the one form of RFC 8785. Raises ValueError for what JSON cannot say (NaN, huge integers)."""
    return rfc8785.dumps(document).decode("utf-8")


def utc_text(moment: datetime) -> str:
    """``2026-03-01T12:00:00.000000Z``. Raises ValueError for a time without a zone."""
    if moment.tzinfo is None:
        raise ValueError("a ledger time needs a time zone")
    return moment.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def entry_mac(key: str, previous_mac: str, canonical: str) -> str:
    """HMAC-SHA-256 over the previous entry's MAC followed by this entry's canonical JSON, in hexadecimal."""
    return hmac.new(key.encode(), (previous_mac + canonical).encode(), hashlib.sha256).hexdigest()


def same_mac(one: str, other: str) -> bool:
    """Compare two MACs without telling by timing where they differ."""
    return hmac.compare_digest(one.encode(), other.encode())


def seal(values: dict[str, Any]) -> Sealed:
    """Each value with a salt of its own, ready to be kept and committed to; empty values are left out."""
    return {field: (secrets.token_hex(SALT_BYTES), value) for field, value in values.items() if value not in (None, "")}


def commitments(sealed: Sealed) -> dict[str, str]:
    """What the entry itself holds of each personal value: a SHA-256 that says nothing without the salt."""
    return {field: commitment(salt, value) for field, (salt, value) in sealed.items()}


def commitment(salt: str, value: Any) -> str:
    """The commitment to one value, in hexadecimal."""
    return hashlib.sha256(canonical_json({"salt": salt, "value": value}).encode()).hexdigest()


def broken_commitments(committed: dict[str, str], kept: dict[str, Any], erased: list[str]) -> list[str]:
    """The fields whose kept value is not what was committed to: changed, added, or gone without being erased."""
    wrong = [field for field in kept if field not in committed]
    for field, expected in committed.items():
        if field in kept:
            salt, value = kept[field]
            if commitment(salt, value) != expected:
                wrong.append(field)
        elif field not in erased:
            wrong.append(field)
    return sorted(wrong)


def parsed(canonical: str) -> dict[str, Any]:
    """The document behind a canonical text. Raises ValueError when it is not a JSON object in canonical form."""
    document = json.loads(canonical)
    if not isinstance(document, dict) or canonical_json(document) != canonical:
        raise ValueError("not a canonical JSON object")
    return document
