"""The decoder: what a scanner read, or a person typed, to a reading or a refusal.

The order is that of the strongest statement first; see the design's section on the decoder. Nothing is fetched, nothing
is corrected silently, and no payload is logged.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from fleet.labels import epc, gs1, iso15434, keyvalue, links, plain
from fleet.labels.families import family_of
from fleet.labels.merge import Code, merge
from fleet.labels.payload import GS, GS1_CARRIERS, GTIN_CARRIERS, OTHER_INDUSTRIES, Payload, prepare
from fleet.labels.reading import DecodeOptions, Element, Reading, Refusal, Refused
from fleet.labels.secrets import withhold
from fleet.labels.taught import read_taught
from fleet.labels.urls import has_unsafe_scheme, is_broken_link

_COMMON_BESIDE_GTIN = ("10", "11", "17", "21", "240")
_UNMARKED_ELEMENTS = re.compile(r"(?:01|03)[0-9]{14}|8006[0-9]{18}")


def decode(payload: str | bytes, symbology: str | None = None, *, options: DecodeOptions) -> Reading | Refusal:
    """Read one code. ``symbology`` is its AIM identifier, such as ``]Q1``, where the scanner knows it."""
    return _decode_code(payload, symbology, options).result


def decode_label(codes: Sequence[tuple[str | bytes, str | None]], *, options: DecodeOptions) -> Reading | Refusal:
    """Read all codes of one label, each a payload with its symbology identifier, as one."""
    return merge([_decode_code(payload, symbology, options) for payload, symbology in codes], options.today)


def _decode_code(given: str | bytes, symbology: str | None, options: DecodeOptions) -> Code:
    payload = Payload("", symbology or "")
    try:
        payload = _without_secrets(prepare(given, symbology))
        elements = _carried_elements(payload, options)
        if elements is not None:
            standard = "gs1-ean" if payload.symbology in GTIN_CARRIERS else "gs1-element-string"
            return Code(_carried_reading(elements, standard, payload, options), payload.text, elements)
        reading = _read(payload.text, options)
    except Refused as refused:
        return Code(_refusal(refused, given, payload), payload.text)
    return Code(_placed(_with_guess(reading, payload), payload), payload.text)


def _without_secrets(payload: Payload) -> Payload:
    """No secret comes out of the decoder: an element that repeats one would be kept with the reading."""
    if payload.symbology in GS1_CARRIERS or payload.symbology in GTIN_CARRIERS:
        return payload
    text = withhold(payload.text)
    return payload if text == payload.text else replace(payload, text=text, notations=())


def _carried_elements(payload: Payload, options: DecodeOptions) -> gs1.Elements | None:
    """The elements of a code whose symbology says that it holds GS1 data; None for any other."""
    if payload.symbology in GS1_CARRIERS:
        return gs1.split_element_string(payload.text, options.today)
    if payload.symbology in GTIN_CARRIERS:
        return gs1.split_gtin(payload.text, GTIN_CARRIERS[payload.symbology])
    if payload.symbology in OTHER_INDUSTRIES:
        raise Refused("unknown_format", 0)
    return None


def _carried_reading(
    elements: gs1.Elements, standard: str, payload: Payload, options: DecodeOptions
) -> Reading | Refusal:
    try:
        return _placed(_with_guess(gs1.reading_of(elements, standard, options.today), payload), payload)
    except Refused as refused:
        return _refusal(refused, payload.text, payload)


def _read(text: str, options: DecodeOptions) -> Reading:
    if text.startswith(iso15434.HEADER):
        _refuse_non_ascii(text)
        return iso15434.decode_message(text, options.today)
    if iso15434.HEADER in text and GS in text:
        raise Refused("bad_envelope", text.index(iso15434.HEADER))
    if family_of(text):
        raise Refused("not_an_identifier")
    if epc.is_urn(text):
        return epc.decode_urn(text)
    if links.is_link(text, options):
        return links.decode_link(text, options)
    if has_unsafe_scheme(text):
        raise Refused("unsafe_url", 0)
    if is_broken_link(text):
        raise Refused("bad_structure", 0)
    return _read_text(text, options)


def _refuse_non_ascii(text: str) -> None:
    for position, character in enumerate(text):
        if not character.isascii():
            raise Refused("non_ascii", position)


def _read_text(text: str, options: DecodeOptions) -> Reading:
    if gs1.is_bracketed(text):
        return gs1.reading_of(gs1.split_bracketed(text, options.today), "gs1-bracketed", options.today)
    taught = read_taught(text, options)
    if taught is not None:
        return taught
    if keyvalue.looks_like_json(text):
        return keyvalue.decode_json(text)
    reading = keyvalue.decode_key_value(text) or plain.decode_mac(text) or _unmarked_elements(text, options)
    return reading or plain.decode_plain(text)


def _unmarked_elements(text: str, options: DecodeOptions) -> Reading | None:
    """An element string whose code lacks the mark for one: a common printing fault, for a person to confirm."""
    starts_like_one = _UNMARKED_ELEMENTS.match(text)
    if not starts_like_one and GS not in text:
        return None
    try:
        elements = gs1.split_element_string(text, options.today)
        reading = gs1.reading_of(elements, "gs1-element-string", options.today)
    except Refused as refused:
        if GS in text or _is_broken_element_string(text, refused):
            raise
        return None
    return reading.needing_confirmation("fnc1_missing")


def _is_broken_element_string(text: str, refused: Refused) -> bool:
    """Whether a text is an element string with a fault rather than a serial that only starts like one."""
    return refused.reason not in {"unknown_ai", "missing_key"} and text[16:].startswith(_COMMON_BESIDE_GTIN)


def _with_guess(reading: Reading, payload: Payload) -> Reading:
    return reading.needing_confirmation("separator_guessed") if payload.guessed else reading


def _placed(reading: Reading, payload: Payload) -> Reading:
    if not payload.shift and not payload.notations:
        return reading
    return replace(reading, elements=tuple(_moved(element, payload) for element in reading.elements))


def _moved(element: Element, payload: Payload) -> Element:
    return replace(element, position=payload.place(element.position) or 0)


def _refusal(refused: Refused, given: str | bytes, payload: Payload) -> Refusal:
    family = family_of(payload.text)
    return Refusal(
        reason=refused.reason,
        position=None if family else payload.place(refused.position),
        identifier=refused.identifier,
        payload_class=family or "",
        payload_length=len(given),
        secret=family is not None,
    )
