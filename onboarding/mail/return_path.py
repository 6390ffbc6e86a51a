"""What a mail carries so that an answer can be matched to it: its return address, its Message-ID, its leave link.

The return token (variable envelope return path) is random, in the database, and another one than any link's. It is
lower-case hexadecimal, because relays fold the case of local parts.
"""

import base64
import hashlib
import hmac
import re
import secrets
import uuid
from collections.abc import Iterable

TOKEN_BYTES = 16
_TOKEN = re.compile(r"\+([0-9a-f]{32})@", re.IGNORECASE)
_MAC_BYTES = 16


def new_return_token() -> str:
    """A token of 32 hexadecimal digits."""
    return secrets.token_hex(TOKEN_BYTES)


def return_address(base: str, token: str) -> str:
    """``bounces@example.org`` and a token give ``bounces+TOKEN@example.org``."""
    local, _at, domain = base.rpartition("@")
    return f"{local}+{token}@{domain}"


def return_tokens(texts: Iterable[str]) -> list[str]:
    """The return tokens found in addresses or header values, in order, each once."""
    return list(dict.fromkeys(found.lower() for text in texts for found in _TOKEN.findall(text)))


def message_id(reference: uuid.UUID, send_number: int, domain: str) -> str:
    """The Message-ID of one send: the same for every try of it, another for each deliberate resend."""
    return f"<{reference.hex}.{send_number}@{domain}>"


def leave_opaque(delivery: uuid.UUID, key: str) -> str:
    """The part of the one-click link that names a delivery and cannot be guessed (RFC 8058 section 3.1)."""
    return base64.urlsafe_b64encode(delivery.bytes + _mac(delivery, key)).decode().rstrip("=")


def read_opaque(opaque: str, key: str) -> uuid.UUID | None:
    """The delivery that ``opaque`` names, or None if it is not one of ours."""
    try:
        raw = base64.urlsafe_b64decode(opaque + "=" * (-len(opaque) % 4))
    except ValueError:
        return None
    if len(raw) != 16 + _MAC_BYTES:
        return None
    named = uuid.UUID(bytes=raw[:16])
    return named if hmac.compare_digest(raw[16:], _mac(named, key)) else None


def _mac(delivery: uuid.UUID, key: str) -> bytes:
    return hmac.new(key.encode(), b"leave:" + delivery.bytes, hashlib.sha256).digest()[:_MAC_BYTES]
