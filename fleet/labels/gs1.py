"""GS1 element strings: taken apart by the table of application identifiers, checked, and turned into facts.

Source: GS1 General Specifications, sections 3 (identifiers), 4.14 (what belongs together) and 7.8 (separators).
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from fleet.labels.gs1_table import APPLICATION_IDENTIFIERS, ApplicationIdentifier
from fleet.labels.gs1_values import check_value, date_of, has_check_digit
from fleet.labels.payload import GS
from fleet.labels.reading import Element, Reading, Refused

_BRACKETED_START = re.compile(r"\((\d{1,4})\)")
_BRACKETED_IDENTIFIER = re.compile(r"\((\d{2,4})\)")
_FACTS = {
    "01": "gtin",
    "03": "gtin",
    "8006": "gtin",
    "10": "batch",
    "11": "date",
    "21": "serial",
    "8011": "serial",
    "240": "part_number",
    "8010": "part_number",
    "8003": "asset_id",
    "8004": "asset_id",
}
_DEVICE_FACTS = frozenset({"gtin", "serial", "part_number", "asset_id"})
_YIELDS_TO = {"8011": "21", "8010": "240", "8003": "8004"}
_LOGISTIC_UNIT = "00"


@dataclass(slots=True)
class Elements:
    """The elements of one or more codes, with what was noticed while taking them apart."""

    found: list[Element] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def split_element_string(text: str, today: dt.date, offset: int = 0) -> Elements:
    """Take an element string apart and check each value. Raises :class:`Refused`.

    ``offset`` is where ``text`` starts in the payload.
    """
    elements = Elements()
    position = _after_leading_separator(text, elements)
    while position < len(text):
        identifier = identifier_at(text, position, offset)
        start = position + len(identifier.code)
        end = _end_of_value(text, start, identifier)
        value = text[start:end]
        check_value(identifier, value, offset + start, today)
        elements.found.append(Element(identifier.code, identifier.title, value, offset + position))
        position = _after_separator(text, end, identifier, elements, offset)
    if not elements.found:
        raise Refused("empty")
    return elements


def identifier_at(text: str, position: int, offset: int = 0) -> ApplicationIdentifier:
    """The application identifier that starts at a place; none is the start of another."""
    for length in (2, 3, 4):
        identifier = APPLICATION_IDENTIFIERS.get(text[position : position + length])
        if identifier:
            return identifier
    raise Refused("unknown_ai", offset + position)


def _after_leading_separator(text: str, elements: Elements) -> int:
    """Some scanners send the leading FNC1 as a separator; one is harmless."""
    if text.startswith(GS):
        if text.startswith(GS, 1):
            raise Refused("bad_structure", 1)
        elements.warnings.append("separator_extra")
        return 1
    return 0


def _end_of_value(text: str, start: int, identifier: ApplicationIdentifier) -> int:
    separator = text.find(GS, start)
    end = len(text) if separator < 0 else separator
    return min(end, start + identifier.longest) if identifier.predefined_length else end


def _after_separator(text: str, end: int, identifier: ApplicationIdentifier, elements: Elements, offset: int) -> int:
    if not text.startswith(GS, end):
        return end
    if text.startswith(GS, end + 1):
        raise Refused("bad_structure", offset + end + 1)
    if identifier.predefined_length or end + 1 == len(text):
        elements.warnings.append("separator_extra")
    return end + 1


def split_bracketed(text: str, today: dt.date) -> Elements:
    """Take ``(01)09520123456788(21)SN0001`` apart. Raises :class:`Refused`."""
    elements = Elements()
    start = _BRACKETED_START.match(text)
    if start and start.group(1) not in APPLICATION_IDENTIFIERS:
        raise Refused("unknown_ai", 0, start.group(1))
    marks = list(_BRACKETED_IDENTIFIER.finditer(text))
    for mark, following in zip(marks, [*marks[1:], None], strict=True):
        identifier = APPLICATION_IDENTIFIERS.get(mark.group(1))
        printed = text[mark.end() : following.start() if following else len(text)]
        if identifier is None or "(" in printed or ")" in printed:
            raise Refused("unknown_ai" if identifier is None else "ambiguous", mark.start(), mark.group(1))
        value = printed.strip(" ").removesuffix(GS)
        if len(value) < len(printed):
            elements.warnings.append("spaces_dropped")
        check_value(identifier, value, mark.end() + len(printed) - len(printed.lstrip(" ")), today)
        elements.found.append(Element(identifier.code, identifier.title, value, mark.start()))
    return elements


def is_bracketed(text: str) -> bool:
    """Whether a text starts with a number in brackets."""
    return bool(_BRACKETED_START.match(text))


def without_repetitions(elements: Elements) -> Elements:
    """The same element twice counts once; the same identifier with two values is refused."""
    kept: dict[str, Element] = {}
    for element in elements.found:
        before = kept.setdefault(element.identifier, element)
        if before.value != element.value:
            raise Refused("duplicate", element.position, element.identifier)
        if before is not element and before.code == element.code:
            elements.warnings.append("repeated_element")
    return Elements(list(kept.values()), elements.warnings)


def check_company(elements: Sequence[Element]) -> None:
    """Refuse elements that need another beside them, or must not stand beside one that is there."""
    present = {element.identifier for element in elements}
    for element in elements:
        identifier = APPLICATION_IDENTIFIERS[element.identifier]
        for pattern in identifier.excludes:
            if _others_like(pattern, present, element.identifier):
                raise Refused("bad_structure", element.position, element.identifier)
    for element in elements:
        identifier = APPLICATION_IDENTIFIERS[element.identifier]
        if identifier.needs and not any(_all_there(needed, present) for needed in identifier.needs):
            raise Refused("missing_key", element.position, element.identifier)


def _others_like(pattern: str, present: Iterable[str], own: str) -> bool:
    return any(_is_like(code, pattern) for code in present if code != own)


def _all_there(needed: Iterable[str], present: Iterable[str]) -> bool:
    return all(any(_is_like(code, pattern) for code in present) for pattern in needed)


def _is_like(code: str, pattern: str) -> bool:
    return code.startswith(pattern[:-1]) if pattern.endswith("*") else code == pattern


def reading_of(elements: Elements, standard: str, today: dt.date) -> Reading:
    """The facts in some elements, after the rules on what belongs together. Raises :class:`Refused`."""
    elements = without_repetitions(elements)
    check_company(elements.found)
    present = {element.identifier for element in elements.found}
    facts: dict[str, Any] = {}
    annotated: list[Element] = []
    date: dt.date | None = None
    for element in elements.found:
        fact = _FACTS.get(element.identifier, "")
        if not fact or _YIELDS_TO.get(element.identifier) in present:
            annotated.append(element)
            continue
        annotated.append(replace(element, fact=fact))
        if fact == "date":
            date = date_of(element.value, today)
        else:
            facts[fact] = _fact_value(element)
    if not _DEVICE_FACTS & facts.keys() or (_LOGISTIC_UNIT in present and "serial" not in facts):
        raise Refused("not_a_device", elements.found[0].position, elements.found[0].identifier)
    scheme, issuer = _issuer(facts, present)
    return Reading(
        standard=standard,
        elements=tuple(annotated),
        warnings=tuple(dict.fromkeys(elements.warnings)),
        date=date,
        issuer_scheme=scheme,
        issuer=issuer,
        **facts,
    )


def _fact_value(element: Element) -> str:
    if element.identifier == "8006":
        return element.value[:14]
    if element.identifier in {"8003", "8004"}:
        return f"{element.identifier}:{element.value}"
    return element.value


def _issuer(facts: dict[str, Any], present: set[str]) -> tuple[str, str]:
    if "serial" not in facts:
        return "", ""
    if "21" in present:
        return "gs1-gtin", facts["gtin"]
    return "gs1-cpid", facts["part_number"]


def split_gtin(text: str, length: int) -> Elements:
    """The GTIN of an EAN, UPC or ITF-14 code, as 14 digits. Raises :class:`Refused`."""
    if len(text) != length:
        raise Refused("bad_length", min(len(text), length), "01")
    for position, character in enumerate(text):
        if not ("0" <= character <= "9"):
            raise Refused("bad_char" if character.isascii() else "non_ascii", position, "01")
    if not has_check_digit(text):
        raise Refused("bad_check_digit", length - 1, "01")
    return Elements([Element("01", APPLICATION_IDENTIFIERS["01"].title, text.zfill(14), 0)])
