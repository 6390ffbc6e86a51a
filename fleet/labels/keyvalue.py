"""Keys and values in plain sight: flat JSON, ``SN:0001;PN:AB-100``, or the query of a link. A person confirms them."""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Iterable
from typing import Any, NamedTuple

from fleet.labels.gs1_values import date_of_eight, has_check_digit
from fleet.labels.mac import is_bare_mac, mac_of
from fleet.labels.plain import check_plain_value
from fleet.labels.reading import Element, Reading, Refused
from fleet.labels.urls import Link, percent_decoded, query_pairs

_DEEPEST = 8
_KEYS = {
    "serial": "sn s/n snr ser serial serialno serialnr serialnum serialnumber serialid deviceserial deviceserialnumber "
    "numserie nserie numeroserie numerodeserie seriennummer seriennr",
    "part_number": "pn p/n partno partnr partnum partnumber part mpn article articleno articlenr articlenumber "
    "artno artnr materialno materialnumber",
    "batch": "lot lotno lotnr lotnumber batch batchno batchnr batchnumber charge lote",
    "mac": "mac macaddr macaddress macid",
    "gtin": "gtin ean ean13 upc",
    "maker": "maker manufacturer mfr vendor brand",
    "model": "model modelno modelnr modelname modelnumber type typ",
    "date": "mfd mfgdate manufacturedate manufacturingdate productiondate proddate",
}
_FACT_OF_KEY = {key: fact for fact, keys in _KEYS.items() for key in keys.split()}
_IDENTIFYING = frozenset({"serial", "part_number", "batch", "mac", "gtin"})
_LETTERS = re.compile(r"[^a-z0-9/]")
_KEYED_PART = re.compile(r"\s*([^\W\d_][\w ._/()-]{0,30}?)\s*[:=]\s*(.*?)\s*", re.DOTALL)
_PART_BREAK = re.compile(r"[;,|\n\r\t]+")
_AMPERSAND = re.compile(r"&(?=[A-Za-z/ ]{2,20}[:=])")
_KEY_INSIDE = re.compile(r" ([A-Za-z][A-Za-z./ ]{0,20}?)[:=]")
_SPACED_PAIR = re.compile(r"(?<!\S)(?=[A-Za-z/]{2,20}[:=]\S)")


class Pair(NamedTuple):
    """One key and its value as found; ``position`` is the key's."""

    key: str
    value: object
    position: int


def fact_of_key(key: str) -> str | None:
    """The fact that a key gives, whatever its case, spaces and dots; None for a key that we do not know."""
    return _FACT_OF_KEY.get(_LETTERS.sub("", key.lower()))


def looks_like_json(text: str) -> bool:
    """Whether a text starts as a JSON object or list does."""
    return text.startswith(("{", "[{", '["', "[["))


def decode_json(text: str) -> Reading:
    """Read a flat JSON object. Raises :class:`Refused`."""
    if _depth(text) > _DEEPEST:
        raise Refused("bad_structure", 0)
    try:
        pairs = json.loads(text, object_pairs_hook=list, parse_int=_Number, parse_float=_Number, strict=False)
    except ValueError as error:
        raise Refused("bad_structure", getattr(error, "pos", 0)) from error
    if not isinstance(pairs, list) or not pairs or not all(isinstance(pair, tuple) for pair in pairs):
        raise Refused("bad_structure" if pairs else "not_an_identifier", 0)
    for _, value in pairs:
        if isinstance(value, list):
            raise Refused("bad_structure", 0)
    return _reading((Pair(key, value, max(text.find(f'"{key}"'), 0)) for key, value in pairs), "json")


class _Number(str):
    """A JSON number: it has lost its leading zeros, so it is never taken for a serial."""


def _depth(text: str) -> int:
    deepest = depth = 0
    for character in text:
        if character in "[{":
            depth += 1
            deepest = max(deepest, depth)
        elif character in "]}":
            depth -= 1
    return deepest


def decode_key_value(text: str) -> Reading | None:
    """Read ``SN:0001;PN:AB-100``; None where the text is not built so. Raises :class:`Refused`."""
    pairs = _keyed_parts(text)
    if pairs is None:
        return None
    if any(fact_of_key(pair.key) for pair in pairs):
        return _reading(pairs, "key-value")
    if len(pairs) > 1:
        raise Refused("not_an_identifier", 0)
    return None


def _keyed_parts(text: str) -> list[Pair] | None:
    pairs: list[Pair] = []
    for start, part in _parts(text):
        match = _KEYED_PART.fullmatch(part)
        if match is None:
            if pairs and fact_of_key(pairs[0].key):
                raise Refused("bad_structure", start)
            return None
        _refuse_key_inside(match.group(2), start + match.start(2))
        pairs.append(Pair(match.group(1), match.group(2), start + match.start(1)))
    return pairs or None


def _refuse_key_inside(value: str, position: int) -> None:
    """``Serial No.: 12 Model: X`` has no sign where the first value ends."""
    inside = _KEY_INSIDE.search(value)
    if inside and fact_of_key(inside.group(1).rpartition(" ")[2] or inside.group(1)):
        raise Refused("ambiguous", position + inside.start())


def _parts(text: str) -> Iterable[tuple[int, str]]:
    breaks = next((breaks for breaks in (_PART_BREAK, _AMPERSAND) if breaks.search(text)), _SPACED_PAIR)
    start = 0
    for found in [*breaks.finditer(text), None]:
        end = found.start() if found else len(text)
        if text[start:end].strip():
            yield start, text[start:end]
        start = found.end() if found else end


def decode_query_keys(link: Link) -> Reading | None:
    """Read ``?sn=000123&pn=AB-1``; None where a link has no such keys. Raises :class:`Refused`."""
    known = [pair for pair in query_pairs(link) if fact_of_key(pair.key)]
    if not any(fact_of_key(pair.key) in _IDENTIFYING for pair in known):
        return None
    return _reading(
        (
            Pair(
                pair.key,
                percent_decoded(pair.value, pair.position + len(pair.key) + 1, plus_is_space=True),
                pair.position,
            )
            for pair in known
        ),
        "query-keys",
    )


def _reading(pairs: Iterable[Pair], standard: str) -> Reading:
    facts: dict[str, Any] = {}
    elements: list[Element] = []
    warnings: list[str] = []
    for key, value, position in pairs:
        fact = fact_of_key(key)
        if fact is None:
            elements.append(Element(str(key), "", str(value), position))
            continue
        if fact in facts:
            raise Refused("duplicate", position, key)
        read = _fact_value(fact, value, position, key)
        if read is None:
            warnings.append("value_ignored")
            elements.append(Element(key, "", str(value), position))
        else:
            facts[fact] = read
            elements.append(Element(key, "", str(value), position, fact))
    if not _IDENTIFYING & facts.keys():
        raise Refused("not_an_identifier", 0)
    gtin = facts.get("gtin")
    issuer = ("gs1-gtin", str(gtin)) if gtin and "serial" in facts else ("", "")
    return Reading(
        standard=standard,
        confirm=True,
        elements=tuple(elements),
        warnings=tuple(dict.fromkeys(warnings)),
        issuer_scheme=issuer[0],
        issuer=issuer[1],
        **facts,
    )


def _fact_value(fact: str, value: object, position: int, key: str) -> str | dt.date | None:
    if isinstance(value, _Number) or not isinstance(value, str):
        if fact in _IDENTIFYING:
            raise Refused("bad_structure", position, key)
        return None
    if fact == "date":
        return date_of_eight(value.replace("-", "")) if re.fullmatch(r"\d{4}-?\d{2}-?\d{2}", value, re.ASCII) else None
    check_plain_value(value, position, key)
    if fact == "mac":
        return _mac(value, position, key)
    if fact == "gtin":
        return _gtin(value, position, key)
    return value


def _mac(value: str, position: int, key: str) -> str:
    mac = mac_of(value) or (value.upper() if is_bare_mac(value) else None)
    if mac is None:
        raise Refused("bad_length" if len(value) < 12 else "bad_char", position, key)
    return mac


def _gtin(value: str, position: int, key: str) -> str:
    if not (value.isascii() and value.isdigit()):
        raise Refused("bad_char", position, key)
    if len(value) not in (8, 12, 13, 14):
        raise Refused("bad_length", position, key)
    if not has_check_digit(value):
        raise Refused("bad_check_digit", position, key)
    return value.zfill(14)
