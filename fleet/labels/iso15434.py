"""ISO/IEC 15434 messages: ``[)>`` RS, a format number, its fields, RS, and EOT at the end.

Format 05 holds GS1 elements, format 06 holds data identifiers. Several formats may follow each other. A missing RS
behind the header and a missing end are repaired with a warning; lost field separators cannot be.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from fleet.labels import data_identifiers, gs1
from fleet.labels.gs1 import Elements
from fleet.labels.payload import EOT, GS, RS
from fleet.labels.reading import Element, Reading, Refused

HEADER = "[)>"
STANDARD = "iso-15434"


@dataclass(slots=True)
class _Message:
    gs1: Elements = field(default_factory=Elements)
    fields: list[Element] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def decode_message(text: str, today: dt.date) -> Reading:
    """Read a message. Raises :class:`Refused`."""
    if HEADER in text[1:]:
        raise Refused("nested_envelope", text.index(HEADER, 1))
    message = _Message()
    start, end = _inside(text, message.warnings)
    for position, segment in _formats(text, start, end):
        _read_format(segment, position, message, today)
    return _reading(message, today)


def _inside(text: str, warnings: list[str]) -> tuple[int, int]:
    """Where the formats start and end, with what was missing around them noted."""
    start = len(HEADER)
    if text.startswith(RS, start):
        start += 1
    elif text[start : start + 2].isdigit():
        warnings.append("header_repaired")
    else:
        raise Refused("bad_envelope", start)
    end = len(text)
    if text.endswith(EOT):
        end -= 1
    if text.endswith(RS, start, end):
        end -= 1
    if len(text) - end < 2:
        warnings.append("trailer_repaired")
    if EOT in text[:end]:
        raise Refused("bad_envelope", text.index(EOT))
    return start, end


def _formats(text: str, start: int, end: int) -> Iterator[tuple[int, str]]:
    position = start
    for segment in text[start:end].split(RS):
        yield position, segment
        position += len(segment) + 1


def _read_format(segment: str, position: int, message: _Message, today: dt.date) -> None:
    number = segment[:2]
    if not (len(number) == 2 and number.isascii() and number.isdigit()):
        raise Refused("bad_envelope", position)
    if number not in {"05", "06"}:
        raise Refused("unknown_format", position)
    if segment[2:3] != GS:
        raise Refused("bad_envelope" if GS in segment or len(segment) == 2 else "separators_lost", position + 2)
    data, data_position = segment[3:], position + 3
    if number == "05":
        part = gs1.split_element_string(data, today, data_position)
        message.gs1.found += part.found
        message.gs1.warnings += part.warnings
    else:
        message.fields += _fields(data, data_position, message.warnings)


def _fields(data: str, position: int, warnings: list[str]) -> Iterator[Element]:
    fields = data.split(GS)
    if len(fields) > 1 and not fields[-1]:
        warnings.append("separator_extra")
        fields.pop()
    for text in fields:
        if not text:
            raise Refused("bad_structure", position)
        yield data_identifiers.split_field(text, position)
        position += len(text) + 1


def _reading(message: _Message, today: dt.date) -> Reading:
    if not message.gs1.found:
        return data_identifiers.reading_of(message.fields, STANDARD, message.warnings)
    message.gs1.warnings[:0] = message.warnings
    reading = gs1.reading_of(message.gs1, STANDARD, today)
    return _joined(reading, message.fields) if message.fields else reading


def _joined(reading: Reading, fields: list[Element]) -> Reading:
    """One message that states its facts in both formats; where they overlap they must agree."""
    other = data_identifiers.reading_of(fields, STANDARD)
    facts: dict[str, Any] = dict(reading.facts())
    for name, value in other.facts().items():
        if facts.setdefault(name, value) != value:
            raise Refused("duplicate", next(element.position for element in other.elements if element.fact == name))
    scheme, issuer = (reading.issuer_scheme, reading.issuer) if reading.serial else (other.issuer_scheme, other.issuer)
    return replace(
        reading,
        elements=reading.elements + other.elements,
        warnings=tuple(dict.fromkeys(reading.warnings + other.warnings)),
        issuer_scheme=scheme,
        issuer=issuer,
        **facts,
    )
