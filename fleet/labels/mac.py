"""MAC addresses as people and labels write them (IEEE 802: six octets)."""

from __future__ import annotations

import re

_WRITTEN = re.compile(
    r"[0-9A-F]{2}(?::[0-9A-F]{2}){5}|[0-9A-F]{2}(?:-[0-9A-F]{2}){5}|[0-9A-F]{4}(?:\.[0-9A-F]{4}){2}", re.IGNORECASE
)
_BROKEN = re.compile(r"(?=.*:)[0-9A-F]{1,2}(?:[:-][0-9A-F]{1,2}){3,7}", re.IGNORECASE)
_BARE = re.compile(r"[0-9A-F]{12}", re.IGNORECASE)


def mac_of(text: str) -> str | None:
    """The 12 capital digits of an address written with its separators, else None."""
    return re.sub(r"[:.-]", "", text).upper() if _WRITTEN.fullmatch(text) else None


def is_broken_mac(text: str) -> bool:
    """Whether a text was meant for an address, but has too few or too many digits or mixed separators."""
    return bool(_BROKEN.fullmatch(text)) and mac_of(text) is None


def is_bare_mac(text: str) -> bool:
    """Whether a text could be an address without separators."""
    return bool(_BARE.fullmatch(text))
