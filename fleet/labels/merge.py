"""Several codes on one label, read as one.

Equal facts collapse; GS1 codes are judged together, because elements may be spread over the codes of an item
(General Specifications 4.14); a plain code equal to a structured fact is absorbed; codes that identify nothing are left
out; contradictions go to a person.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from fleet.labels import gs1
from fleet.labels.mac import is_bare_mac
from fleet.labels.reading import Element, Reading, Refusal, Refused

_LEFT_OUT = frozenset({"empty", "not_an_identifier", "not_a_device", "unsafe_url"})
_GTIN_LENGTHS = (8, 12, 13, 14)


@dataclass(frozen=True, slots=True)
class Code:
    """One code of a label: what it was read as on its own, its text, and its elements where it carries GS1 data."""

    result: Reading | Refusal
    text: str
    elements: gs1.Elements | None = None


def merge(codes: Sequence[Code], today: dt.date) -> Reading | Refusal:
    """One reading for all codes of a label, or the refusal that stands in its way."""
    if not codes:
        return Refusal(reason="empty")
    if len(codes) == 1:
        return codes[0].result
    try:
        structured = _gs1_together(codes, today)
    except _Stopped as stopped:
        return stopped.refusal
    plain: list[tuple[int, Code]] = []
    refusals: list[Refusal] = []
    for place, code in enumerate(codes):
        if code.elements is not None:
            continue
        if isinstance(code.result, Refusal):
            if code.result.reason == "ambiguous":
                plain.append((place, code))
            else:
                refusals.append(replace(code.result, code=place))
        elif code.result.standard == "plain":
            plain.append((place, code))
        else:
            structured.append(_of_code(code.result, place))
    return _joined(structured, plain, refusals)


class _Stopped(Exception):
    def __init__(self, refusal: Refusal) -> None:
        super().__init__(refusal.reason)
        self.refusal = refusal


def _of_code(reading: Reading, place: int) -> Reading:
    return replace(reading, elements=tuple(replace(element, code=place) for element in reading.elements))


def _gs1_together(codes: Sequence[Code], today: dt.date) -> list[Reading]:
    """The codes that carry GS1 data as one reading; a list of one, or of none."""
    carriers = [(place, code.elements) for place, code in enumerate(codes) if code.elements is not None]
    if not carriers:
        return []
    together = gs1.Elements()
    for place, elements in carriers:
        together.found += [replace(element, code=place) for element in elements.found]
        together.warnings += elements.warnings
    guessed = any(
        isinstance(codes[place].result, Reading) and "separator_guessed" in _warnings(codes[place].result)
        for place, _ in carriers
    )
    try:
        reading = gs1.reading_of(together, _standard(carriers, codes), today)
    except Refused as refused:
        if refused.reason == "not_a_device" and len(carriers) < len(codes):
            return []
        raise _Stopped(_refusal(refused, [codes[place] for place, _ in carriers])) from refused
    return [reading.needing_confirmation("separator_guessed") if guessed else reading]


def _warnings(result: Reading | Refusal) -> tuple[str, ...]:
    return result.warnings if isinstance(result, Reading) else ()


def _standard(carriers: Sequence[tuple[int, gs1.Elements]], codes: Sequence[Code]) -> str:
    results = [codes[place].result for place, _ in carriers]
    only_ean = all(isinstance(result, Reading) and result.standard == "gs1-ean" for result in results)
    return "gs1-ean" if only_ean else "gs1-element-string"


def _refusal(refused: Refused, codes: Sequence[Code]) -> Refusal:
    reason = "conflict" if refused.reason == "duplicate" else refused.reason
    readings = tuple(code.result for code in codes if isinstance(code.result, Reading))
    candidates = readings if reason == "conflict" else ()
    return Refusal(reason=reason, position=refused.position, identifier=refused.identifier, candidates=candidates)


def _joined(structured: list[Reading], plain: list[tuple[int, Code]], refusals: list[Refusal]) -> Reading | Refusal:
    for refusal in refusals:
        if refusal.reason not in _LEFT_OUT:
            return refusal
    if not structured and not plain:
        return _most_telling(refusals)
    whole = _whole(structured)
    if isinstance(whole, Refusal):
        return whole
    joined = _with_plain(whole, plain)
    if isinstance(joined, Refusal) or not refusals:
        return joined
    return replace(joined, warnings=(*joined.warnings, "code_ignored"))


def _most_telling(refusals: list[Refusal]) -> Refusal:
    ranked = ("unsafe_url", "not_a_device", "not_an_identifier", "empty")
    if not refusals:
        return Refusal(reason="not_a_device")
    return min(refusals, key=lambda refusal: ranked.index(refusal.reason))


def _whole(readings: Sequence[Reading]) -> Reading | Refusal | None:
    """Structured readings as one, or the conflict between them."""
    if not readings:
        return None
    whole = readings[0]
    for reading in readings[1:]:
        joined = _pair(whole, reading)
        if joined is None:
            return Refusal(reason="conflict", candidates=tuple(readings))
        whole = joined
    return whole


def _pair(one: Reading, other: Reading) -> Reading | None:
    facts: dict[str, Any] = dict(one.facts())
    for name, value in other.facts().items():
        if facts.setdefault(name, value) != value:
            return None
    sure = [reading for reading in (one, other) if not reading.confirm]
    confirm = not any(facts == {**facts, **reading.facts()} and len(reading.facts()) == len(facts) for reading in sure)
    numbered = one if one.serial is not None and (one.issuer_scheme or other.serial is None) else other
    return replace(
        one,
        standard="label" if one.standard != other.standard else one.standard,
        confirm=confirm and (one.confirm or other.confirm),
        elements=one.elements + other.elements,
        warnings=tuple(dict.fromkeys(one.warnings + other.warnings)),
        issuer_scheme=numbered.issuer_scheme,
        issuer=numbered.issuer,
        **facts,
    )


def _with_plain(whole: Reading | None, plain: Sequence[tuple[int, Code]]) -> Reading | Refusal:
    remaining = [(place, code) for place, code in plain if whole is None or not _is_absorbed(code.text, whole)]
    by_text = {code.text: (place, code) for place, code in reversed(remaining)}
    if whole is not None and not by_text:
        return whole
    if len(by_text) > 1:
        return _ask(whole, [code for _, code in by_text.values()])
    place, code = next(iter(by_text.values()))
    if isinstance(code.result, Refusal):
        return _as_mac(whole, code, place) or replace(code.result, code=place)
    reading = _of_code(code.result, place)
    if whole is None:
        return reading
    if whole.serial is not None or whole.identity is not None:
        return _ask(whole, [code])
    return _numbered_by(whole, reading)


def _as_mac(whole: Reading | None, code: Code, place: int) -> Reading | None:
    """Twelve hexadecimal digits beside a known serial are most likely the MAC address; a person confirms it."""
    if whole is None or whole.identity is None or whole.mac or not is_bare_mac(code.text):
        return None
    mac = code.text.upper()
    element = Element("", "MAC address", mac, 0, "mac", place)
    return replace(whole, standard="label", mac=mac, confirm=True, elements=(*whole.elements, element))


def _ask(whole: Reading | None, codes: Iterable[Code]) -> Refusal:
    readings = [code.result for code in codes if isinstance(code.result, Reading)]
    return Refusal(reason="conflict", candidates=tuple([whole, *readings] if whole else readings))


def _numbered_by(whole: Reading, plain: Reading) -> Reading:
    """A product code and one plain code beside it: the plain one is the serial, and somebody confirms it."""
    return replace(
        whole,
        standard="label",
        serial=plain.serial,
        confirm=True,
        elements=whole.elements + plain.elements,
        issuer_scheme="gs1-gtin" if whole.gtin else "",
        issuer=whole.gtin or "",
    )


def _is_absorbed(text: str, whole: Reading) -> bool:
    """Whether a plain code repeats a fact that is known already."""
    known = {str(value) for value in whole.facts().values()} | _values(whole.elements)
    if text in known or text.upper() == (whole.mac or ""):
        return True
    return whole.gtin is not None and len(text) in _GTIN_LENGTHS and text.isdigit() and text.zfill(14) == whole.gtin


def _values(elements: Iterable[Element]) -> set[str]:
    return {element.value for element in elements}
