"""GS1 Digital Link: an identifier in the path of a link.

Source: GS1 Digital Link Standard, URI Syntax (https://ref.gs1.org/standards/digital-link/uri-syntax/): any host and
any stem, the right-most primary key, its qualifiers in order, other identifiers in the query.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from itertools import pairwise

from fleet.labels.digital_link_table import DIGITAL_LINK_KEYS, NOT_LINK_ATTRIBUTES
from fleet.labels.gs1 import Elements
from fleet.labels.gs1_table import APPLICATION_IDENTIFIERS
from fleet.labels.gs1_values import check_value
from fleet.labels.reading import Element, Refused
from fleet.labels.urls import Link, percent_decoded, query_pairs

# Names for keys and qualifiers that versions of the standard before 1.2 allowed.
_OLD_NAMES = frozenset(
    [
        "sscc",
        "gtin",
        "gdti",
        "gcn",
        "ginc",
        "gsin",
        "gln",
        "party",
        "grai",
        "giai",
        "itip",
        "cpid",
        "gmn",
        "gsrnp",
        "gsrn",
        "shipto",
        "billto",
        "purchasedfrom",
        "shipfor",
        "payto",
        "glnprod",
    ]
)
_OLD_QUALIFIERS = frozenset(["cpv", "lot", "ser", "tpx", "glnx", "cpsn", "srin", "refno", "uic-ext"])

Segment = tuple[str, int]


def split_digital_link(link: Link, today: dt.date) -> Elements | None:
    """The elements of a Digital Link, or None where the link is none. Raises :class:`Refused`."""
    segments = _segments(link)
    start = _start_of_key(segments)
    if start is None:
        _refuse_what_was_meant_for_one(segments)
        return None
    elements = Elements()
    _check_path([code for code, _ in _pairs(segments[start:])])
    for (code, position), value in _pairs(segments[start:]):
        elements.found.append(_element(code, value[0], position, value[1], today, in_query=False))
    path = [element.identifier for element in elements.found]
    for pair in query_pairs(link):
        if pair.key.isascii() and pair.key.isdigit():
            elements.found.append(_attribute(pair.key, pair.value, pair.position, path, elements, today))
    return elements


def _segments(link: Link) -> list[Segment]:
    segments: list[Segment] = []
    position = link.path_position
    for text in link.path.split("/"):
        segments.append((text, position))
        position += len(text) + 1
    return segments[1:]


def _pairs(segments: list[Segment]) -> Iterator[tuple[Segment, Segment]]:
    return zip(segments[::2], segments[1::2], strict=True)


def _start_of_key(segments: list[Segment]) -> int | None:
    """Where the right-most pair with a primary key starts, going back from the end two by two."""
    for start in range(len(segments) - 2, -1, -2):
        if segments[start][0] in DIGITAL_LINK_KEYS:
            return start
        if segments[start][0].lower() in _OLD_NAMES and _could_be_key_value(segments[start + 1][0]):
            raise Refused("deprecated_alpha_key", segments[start][1])
    return None


def _refuse_what_was_meant_for_one(segments: list[Segment]) -> None:
    for (name, position), (value, _) in pairwise(segments):
        if name in DIGITAL_LINK_KEYS and (not value or _could_be_key_value(value)):
            raise Refused("bad_structure", position, name)
        if name.lower() in _OLD_NAMES and _could_be_key_value(value):
            raise Refused("deprecated_alpha_key", position)


def _could_be_key_value(value: str) -> bool:
    """Every primary key's value starts with the digits of a company prefix."""
    return len(value) >= 4 and value[:4].isascii() and value[:4].isdigit()


def _check_path(codes: list[Segment]) -> None:
    """Only qualifiers of the key may follow it, each once and in their order."""
    key, *qualifiers = (code for code, _ in codes)
    allowed = DIGITAL_LINK_KEYS[key]
    for place, (code, position) in enumerate(codes[1:]):
        _check_qualifier(code, position, allowed)
        if code in qualifiers[:place]:
            raise Refused("duplicate", position, code)
    if not any(_in_order(qualifiers, sequence) for sequence in allowed):
        same_sequence = any(set(qualifiers) <= set(sequence) for sequence in allowed)
        raise Refused("ai_order" if same_sequence else "bad_structure", codes[-1][1], qualifiers[-1])


def _check_qualifier(code: str, position: int, allowed: tuple[tuple[str, ...], ...]) -> None:
    if code.lower() in _OLD_QUALIFIERS:
        raise Refused("deprecated_alpha_key", position)
    if code.isascii() and code.isdigit() and code not in APPLICATION_IDENTIFIERS:
        raise Refused("unknown_ai", position, code)
    if not any(code in sequence for sequence in allowed):
        raise Refused("bad_structure", position, code)


def _element(code: str, value: str, position: int, value_position: int, today: dt.date, *, in_query: bool) -> Element:
    identifier = APPLICATION_IDENTIFIERS.get(code)
    if identifier is None:
        raise Refused("unknown_ai", position, code)
    if not value:
        raise Refused("bad_length" if in_query else "bad_structure", value_position, code)
    decoded = percent_decoded(value, value_position, plus_is_space=in_query)
    check_value(identifier, decoded, value_position, today)
    return Element(code, identifier.title, decoded, position)


def _in_order(qualifiers: list[str], sequence: tuple[str, ...]) -> bool:
    return qualifiers == [code for code in sequence if code in qualifiers]


def _attribute(code: str, value: str, position: int, path: list[str], elements: Elements, today: dt.date) -> Element:
    if code not in APPLICATION_IDENTIFIERS:
        raise Refused("unknown_ai", position, code)
    if any(code == element.identifier for element in elements.found):
        raise Refused("duplicate", position, code)
    if code in NOT_LINK_ATTRIBUTES or _belongs_in_path(code, path):
        raise Refused("bad_structure", position, code)
    return _element(code, value, position, position + len(code) + 1, today, in_query=True)


def _belongs_in_path(code: str, path: list[str]) -> bool:
    key, *qualifiers = path
    return any(code in sequence and set(qualifiers) <= set(sequence) for sequence in DIGITAL_LINK_KEYS[key])
