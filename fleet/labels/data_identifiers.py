"""Data identifiers (ISO/IEC 15418, ANSI MH10.8.2): which give facts about a device, and how their values are built.

An identifier is up to three digits and a capital letter. Values that need a register of agencies to be taken apart
(25S, 25P, 37S; ISO/IEC 15459) are kept whole, with their identifier in front.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from fleet.labels.gs1_values import date_of_eight, reason_for_character
from fleet.labels.mac import is_bare_mac, mac_of
from fleet.labels.reading import LONGEST_SERIAL, Element, Reading, Refused

_IDENTIFIER = re.compile(r"([0-9]{0,3}[A-Z])(.*)", re.DOTALL)
_CAGE_LENGTH = 5
_TRANSPORT_UNIT = "J"

TITLES = {
    "S": "Serial number",
    "18S": "CAGE code and serial number",
    "25S": "Unique serial number of an item (agency, company, serial)",
    "37S": "Unique serial number of a part (agency, company, part, serial)",
    "1P": "Part number of the supplier",
    "25P": "Part number with agency and company",
    "1T": "Batch of the supplier",
    "16D": "Production date",
    "23S": "MAC address",
    "12V": "Manufacturer (DUNS number)",
    "17V": "Manufacturer (CAGE code)",
    "18V": "Manufacturer (agency and company)",
    "25V": "Party (agency and company)",
    "P": "Part number of the customer",
    "2P": "Version of the part",
    "30P": "Part number of the supplier, second form",
    "9N": "Pharmacy product number",
    "T": "Batch of the customer",
    "1S": "Serial number for the supplier's own use",
    "3S": "Package number",
    "D": "Date",
    "5D": "Date with its kind",
    "6D": "Date with its kind",
    "9D": "Production week, year first",
    "10D": "Production week",
    "14D": "Expiry date",
    "Q": "Quantity",
    "7Q": "Quantity with its unit",
    "K": "Order number of the customer",
    "1K": "Order number of the supplier",
    "2K": "Bill of lading",
    "V": "Supplier (number given by the customer)",
    "1V": "Supplier (number given by the supplier)",
    "3V": "Supplier (DUNS number)",
    "4L": "Country of origin",
    "L": "Storage place",
    "21L": "Place",
    "Z": "As agreed between partners",
    "4Z": "Carrier's own data",
}
_FACTS = {
    "S": "serial",
    "18S": "serial",
    "25S": "serial",
    "37S": "serial",
    "1P": "part_number",
    "25P": "part_number",
    "1T": "batch",
    "16D": "date",
    "23S": "mac",
    "12V": "manufacturer_code",
    "17V": "manufacturer_code",
    "18V": "manufacturer_code",
    "25V": "manufacturer_code",
}
_KEPT_WHOLE = frozenset({"25S", "25P", "37S"})
_EXACT_LENGTH = {"17V": _CAGE_LENGTH, "12V": 9}


def split_field(field: str, position: int) -> Element:
    """``1PAB-100`` as an element. Raises :class:`Refused`."""
    match = _IDENTIFIER.fullmatch(field)
    if match is None:
        for offset, character in enumerate(field):
            if not " " <= character <= "~":
                raise Refused(reason_for_character(character), position + offset)
        raise Refused("unknown_di", position)
    return element_of(match.group(1), match.group(2), position, position + len(match.group(1)))


def element_of(identifier: str, value: str, position: int, value_position: int) -> Element:
    """An identifier and its value, checked. Raises :class:`Refused`."""
    if not re.fullmatch(r"[0-9]{0,3}[A-Z]", identifier):
        raise Refused("unknown_di", position)
    if identifier.endswith(_TRANSPORT_UNIT):
        raise Refused("not_a_device", position, identifier)
    _check_characters(value, value_position, identifier)
    _check_value(identifier, value, value_position)
    return Element(identifier, TITLES.get(identifier, ""), value, position)


def _check_characters(value: str, position: int, identifier: str) -> None:
    if not value or len(value) > LONGEST_SERIAL:
        raise Refused("bad_length", position, identifier)
    for offset, character in enumerate(value):
        if not " " <= character <= "~":
            raise Refused(reason_for_character(character), position + offset, identifier)
    if identifier in _FACTS and value != value.strip(" "):
        raise Refused("bad_char", position + (0 if value[0] == " " else len(value) - 1), identifier)


def _check_value(identifier: str, value: str, position: int) -> None:
    length = _EXACT_LENGTH.get(identifier)
    if length and len(value) != length:
        raise Refused("bad_length", position + min(len(value), length), identifier)
    if identifier in {"17V", "12V", "18V", "25V"} and not value.isalnum():
        raise Refused("bad_char", position, identifier)
    if identifier == "12V" and not value.isdigit():
        raise Refused("bad_char", position, identifier)
    if identifier == "18S":
        _check_cage_and_serial(value, position)
    elif identifier == "16D":
        _check_date(value, position)
    elif identifier == "23S" and mac_of(value) is None and not is_bare_mac(value):
        raise Refused("bad_length" if len(value) < 12 else "bad_char", position, identifier)
    elif identifier == "37S" and not value.partition("+")[2]:
        raise Refused("bad_structure", position, identifier)


def _check_cage_and_serial(value: str, position: int) -> None:
    if len(value) <= _CAGE_LENGTH:
        raise Refused("bad_length", position + len(value), "18S")
    if not value[:_CAGE_LENGTH].isalnum():
        raise Refused("bad_char", position, "18S")


def _check_date(value: str, position: int) -> None:
    if len(value) != 8:
        raise Refused("bad_length", position + min(len(value), 8), "16D")
    if not value.isdigit():
        raise Refused("bad_char", position, "16D")
    if date_of_eight(value) is None:
        raise Refused("bad_date", position, "16D")


def reading_of(elements: Sequence[Element], standard: str, warnings: Sequence[str] = (), domain: str = "") -> Reading:
    """The facts in some elements. ``domain`` is the host of the link that held them. Raises :class:`Refused`."""
    _refuse_doubles(elements)
    facts: dict[str, Any] = {}
    annotated = [replace(element, fact=_FACTS.get(element.identifier, "")) for element in elements]
    for element in annotated:
        if element.fact and not (element.fact in facts and _says_less(element, facts)):
            facts[element.fact] = _fact_value(element)
        if element.identifier == "18S":
            facts.setdefault("manufacturer_code", f"18S:{element.value[:_CAGE_LENGTH]}")
    if not facts:
        raise Refused("not_a_device", elements[0].position if elements else None)
    if domain:
        facts.setdefault("manufacturer_code", f"domain:{domain}")
    unknown = ["not_understood"] if any(element.identifier not in TITLES for element in elements) else []
    scheme, issuer = _issuer(facts)
    return Reading(
        standard=standard,
        elements=tuple(annotated),
        warnings=(*dict.fromkeys(warnings), *unknown),
        issuer_scheme=scheme,
        issuer=issuer,
        **facts,
    )


def _fact_value(element: Element) -> str | dt.date:
    identifier, value = element.identifier, element.value
    if identifier == "16D":
        return dt.date(int(value[:4]), int(value[4:6]), int(value[6:]))
    if identifier == "23S":
        return mac_of(value) or value.upper()
    if identifier == "18S":
        return value[_CAGE_LENGTH:]
    if element.fact == "manufacturer_code" or identifier in _KEPT_WHOLE:
        return f"{identifier}:{value}"
    return value


def _refuse_doubles(elements: Sequence[Element]) -> None:
    """The same identifier twice with two values, or two facts of one kind that do not agree."""
    values: dict[str, str] = {}
    facts: dict[str, Element] = {}
    for element in elements:
        if values.setdefault(element.identifier, element.value) != element.value:
            raise Refused("duplicate", element.position, element.identifier)
        fact = _FACTS.get(element.identifier)
        before = facts.setdefault(fact, element) if fact else element
        if before is not element and not _agree(before, element):
            raise Refused("duplicate", element.position, element.identifier)


def _agree(one: Element, other: Element) -> bool:
    """``25SLEXYZ0001`` and ``S0001`` name the same thing, one in full and one for short."""
    if {one.identifier, other.identifier} == {"1P", "25P"}:
        return True
    longer, shorter = sorted((one.value, other.value), key=len, reverse=True)
    return longer.endswith(shorter) or {one.identifier, other.identifier} <= {"12V", "17V", "18V", "25V"}


def _says_less(element: Element, facts: dict[str, Any]) -> bool:
    if element.fact == "part_number":
        return element.identifier == "25P"
    return len(str(_fact_value(element))) <= len(str(facts[element.fact]))


def _issuer(facts: dict[str, Any]) -> tuple[str, str]:
    serial = str(facts.get("serial", ""))
    if not serial:
        return "", ""
    if serial.startswith(("25S:", "37S:")):
        return serial[:3], ""
    identifier, _, code = str(facts.get("manufacturer_code", "")).partition(":")
    return {"17V": "cage", "18S": "cage"}.get(identifier, identifier), code
