"""Readings by a company's own label forms."""

from __future__ import annotations

from typing import Any

from fleet.labels.plain import check_plain_value
from fleet.labels.reading import DecodeOptions, Element, Reading


def read_taught(text: str, options: DecodeOptions) -> Reading | None:
    """Read a text by the first form that fits; None where none does. Raises :class:`Refused`."""
    for form in options.label_forms:
        facts = form.read(text)
        if facts is not None:
            for name, value in facts.items():
                check_plain_value(value, max(text.find(value), 0), name)
            return _reading(text, form.key, dict(sorted(facts.items(), key=lambda part: text.find(part[1]))))
    return None


def _reading(text: str, form: str, facts: dict[str, Any]) -> Reading:
    gtin = facts.get("gtin")
    elements = tuple(Element("", "", value, max(text.find(value), 0), name) for name, value in facts.items())
    return Reading(
        standard="label-form",
        taught_by=form,
        elements=elements,
        issuer_scheme="gs1-gtin" if gtin and "serial" in facts else "",
        issuer=gtin if gtin and "serial" in facts else "",
        **facts,
    )
