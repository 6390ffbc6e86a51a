"""Plain text: a MAC address as typed, or a serial that somebody must confirm."""

from __future__ import annotations

import re

from fleet.labels.gs1_values import has_check_digit, reason_for_character
from fleet.labels.mac import is_bare_mac, is_broken_mac, mac_of
from fleet.labels.reading import LONGEST_PLAIN_SERIAL, Element, Reading, Refused

_GTIN_LENGTHS = (8, 12, 13, 14)
_PROSE = re.compile(r"(?:[A-Za-z]+[.,;:!?]? +){2,}[A-Za-z]+[.,;:!?]?")


def check_plain_value(text: str, position: int = 0, identifier: str = "") -> None:
    """Refuse what no serial, part number or batch may be. Raises :class:`Refused`."""
    if not text:
        raise Refused("bad_length", position, identifier)
    for offset, character in enumerate(text):
        if not " " <= character <= "~":
            raise Refused(reason_for_character(character), position + offset, identifier)
    if text != text.strip(" "):
        raise Refused("bad_char", position + (0 if text[0] == " " else len(text) - 1), identifier)
    if len(text) > LONGEST_PLAIN_SERIAL:
        raise Refused("bad_length", position + LONGEST_PLAIN_SERIAL, identifier)


def decode_mac(text: str) -> Reading | None:
    """A MAC address written with its separators, else None."""
    mac = mac_of(text)
    if mac is None:
        return None
    return Reading(standard="mac", mac=mac, elements=(Element("", "MAC address", mac, 0, "mac"),))


def decode_plain(text: str) -> Reading:
    """Read a text as a serial to be confirmed. Raises :class:`Refused`."""
    check_plain_value(text)
    if is_broken_mac(text):
        raise Refused("bad_structure", 0)
    if could_be_gtin(text) or (is_bare_mac(text) and not text.isdigit()):
        raise Refused("ambiguous")
    if _PROSE.fullmatch(text):
        raise Refused("not_an_identifier")
    return Reading(
        standard="plain", serial=text, confirm=True, elements=(Element("", "Serial number", text, 0, "serial"),)
    )


def could_be_gtin(text: str) -> bool:
    """Whether a text has the length and the check digit of a GTIN."""
    return len(text) in _GTIN_LENGTHS and has_check_digit(text)
