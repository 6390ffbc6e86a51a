"""A reading or refusal as plain JSON values: what the API answers and what a scan keeps."""

from __future__ import annotations

import datetime as dt
from typing import Any

from fleet.labels.reading import REASONS, STANDARDS, WARNINGS, Reading, Refusal


def reading_document(outcome: Reading | Refusal) -> dict[str, Any]:
    """What the decoder understood, as JSON values; sentences are English message ids for the caller to translate."""
    if isinstance(outcome, Refusal):
        return _refusal_document(outcome)
    facts = {
        name: value.isoformat() if isinstance(value, dt.date) else value for name, value in outcome.facts().items()
    }
    return {
        "read": True,
        "standard": outcome.standard,
        "standard_title": STANDARDS[outcome.standard],
        "facts": facts,
        "confirm": outcome.confirm,
        "elements": [
            {
                "identifier": element.identifier,
                "title": element.title,
                "value": element.value,
                "position": element.position,
                "fact": element.fact,
                "code": element.code,
            }
            for element in outcome.elements
        ],
        "warnings": [{"key": key, "sentence": WARNINGS.get(key, key)} for key in outcome.warnings],
    }


def _refusal_document(refusal: Refusal) -> dict[str, Any]:
    return {
        "read": False,
        "refuse": refusal.reason,
        "reason": REASONS[refusal.reason],
        "position": refusal.position,
        "identifier": refusal.identifier,
        "payload_class": refusal.payload_class,
        "payload_length": refusal.payload_length,
        "code": refusal.code,
    }
