"""Labels in, readings out, as JSON lines: the contract of the ``decode_labels`` command.

In: ``{"id", "payload", "symbology"?}``, or ``{"id", "codes": [{"payload", "symbology"?}, …]}`` for a label with
several codes. Out: ``id`` with the facts, or with ``refuse`` (the reason class) and ``reason`` (the sentence).
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from fleet.labels.decode import decode, decode_label
from fleet.labels.reading import DecodeOptions, Reading, Refusal

_SHOWN = (
    "gtin",
    "serial",
    "part_number",
    "batch",
    "date",
    "manufacturer_code",
    "mac",
    "asset_id",
    "site_code",
)


def decode_lines(lines: Iterable[str], options: DecodeOptions) -> Iterator[str]:
    """One line of JSON for each line that is not blank. A line that is no request is answered as refused, too."""
    for line in lines:
        if line.strip():
            yield json.dumps(answer(line, options), ensure_ascii=False)


def answer(line: str, options: DecodeOptions) -> dict[str, Any]:
    """What one line is answered with."""
    try:
        request = json.loads(line)
        result = _result(request, options)
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError):
        result, request = Refusal(reason="bad_structure"), {}
    return {"id": request.get("id"), **as_json(result)}


def _result(request: Mapping[str, Any], options: DecodeOptions) -> Reading | Refusal:
    if "codes" in request:
        codes = [(_text(code["payload"]), code.get("symbology")) for code in request["codes"]]
        return decode_label(codes, options=options)
    return decode(_text(request["payload"]), request.get("symbology"), options=options)


def _text(payload: object) -> str:
    if not isinstance(payload, str):
        raise TypeError("a payload is a text")
    return payload


def as_json(result: Reading | Refusal) -> dict[str, Any]:
    """The facts of a reading, or a refusal's class, sentence and place, ready for JSON."""
    if isinstance(result, Refusal):
        place = {} if result.position is None else {"position": result.position}
        return {"refuse": result.reason, "reason": result.message, **place}
    facts = result.facts()
    shown: dict[str, Any] = {name: _plain(facts[name]) for name in _SHOWN if name in facts}
    return {**shown, "confirm": True} if result.confirm else shown


def _plain(value: str | dt.date) -> str:
    return value.isoformat() if isinstance(value, dt.date) else value
