"""EPC pure identity URN of a serialised trade item: ``urn:epc:id:sgtin:CompanyPrefix.ItemReference.Serial``.

Source: GS1 EPC Tag Data Standard, sections 6.3.1 and 7.3.1.
"""

from __future__ import annotations

import re

from fleet.labels.gs1_table import APPLICATION_IDENTIFIERS
from fleet.labels.gs1_values import SET_82, check_digit, reason_for_character
from fleet.labels.reading import Element, Reading, Refused
from fleet.labels.urls import percent_decoded

_PREFIX = "urn:epc:id:sgtin:"
# Characters of set 82 that a URN must not hold unescaped.
_ESCAPED_ONLY = frozenset('"%&/<>?')
_NO_DEVICE = ("sscc", "sgln", "gdti", "gsrn", "gsrnp", "sgcn", "ginc", "gsin", "pgln")


def is_urn(text: str) -> bool:
    """Whether a text is a URN of any kind (RFC 8141)."""
    return text[:4].lower() == "urn:"


def decode_urn(text: str) -> Reading:
    """Read the URN of an SGTIN. Raises :class:`Refused`."""
    if text[: len(_PREFIX)].lower() != _PREFIX:
        raise Refused(_reason_for_other(text.lower()), 0)
    parts = text[len(_PREFIX) :].split(".", 2)
    if len(parts) < 3:
        raise Refused("bad_structure", len(text))
    prefix, item, raw_serial = parts
    _check_digits(prefix, item)
    serial_position = len(_PREFIX) + len(prefix) + len(item) + 2
    serial = _serial(raw_serial, serial_position)
    digits = item[0] + prefix + item[1:]
    gtin = digits + check_digit(digits)
    title = APPLICATION_IDENTIFIERS["01"].title
    return Reading(
        standard="epc-urn",
        gtin=gtin,
        serial=serial,
        elements=(
            Element("01", title, gtin, len(_PREFIX), "gtin"),
            Element("21", APPLICATION_IDENTIFIERS["21"].title, serial, serial_position, "serial"),
        ),
        issuer_scheme="gs1-gtin",
        issuer=gtin,
    )


def _reason_for_other(text: str) -> str:
    if any(text.startswith(f"urn:epc:id:{kind}:") for kind in _NO_DEVICE):
        return "not_a_device"
    return "unknown_format" if text.startswith("urn:epc:") else "not_an_identifier"


def _check_digits(prefix: str, item: str) -> None:
    for text, position in ((prefix, len(_PREFIX)), (item, len(_PREFIX) + len(prefix) + 1)):
        for offset, character in enumerate(text):
            if not "0" <= character <= "9":
                raise Refused(reason_for_character(character), position + offset, "01")
    if not (6 <= len(prefix) <= 12 and len(prefix) + len(item) == 13):
        raise Refused("bad_length", len(_PREFIX) + len(prefix), "01")


def _serial(raw: str, position: int) -> str:
    for offset, character in enumerate(raw):
        if character not in SET_82 or (character in _ESCAPED_ONLY and not re.match("%[0-9A-Fa-f]{2}", raw[offset:])):
            raise Refused(
                "bad_encoding" if character == "%" else reason_for_character(character), position + offset, "21"
            )
    serial = percent_decoded(raw, position, plus_is_space=False)
    if not 1 <= len(serial) <= 20:
        raise Refused("bad_length", position + min(len(raw), 20), "21")
    for character in serial:
        if character not in SET_82:
            raise Refused("bad_char", position, "21")
    return serial
