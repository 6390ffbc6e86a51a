"""What the decoder understood of a label, in words for a page."""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

_PICTURES = {code: chr(0x2400 + code) for code in range(0x20)} | {0x7F: "\u2421"}
AROUND = 60


@dataclass(frozen=True, slots=True)
class Fact:
    """One fact that a label stated, and which element gave it."""

    name: str
    value: str
    given_by: str


@dataclass(frozen=True, slots=True)
class Place:
    """Where in a payload reading stopped: what stands before, there and after, control characters as pictures."""

    number: int
    before: str
    there: str
    after: str


def fact_name(fact: str) -> str:
    """What a field of a reading is called."""
    names = {
        "gtin": "GTIN",
        "serial": _("Serial number"),
        "part_number": _("Part number"),
        "batch": _("Batch"),
        "date": _("Produced on"),
        "manufacturer_code": _("Manufacturer code"),
        "mac": _("MAC address"),
        "asset_id": _("Asset identifier"),
        "maker": _("Maker"),
        "model": _("Model"),
        "site_code": _("Site code"),
    }
    return names.get(fact, fact)


def facts_read(reading: dict[str, Any]) -> list[Fact]:
    """The facts of a reading document, each with the elements that gave it."""
    givers: dict[str, list[str]] = {}
    for element in reading.get("elements", []):
        givers.setdefault(element["fact"], []).append(_element_words(element))
    return [
        Fact(fact_name(name), str(value), ", ".join(givers.get(name, [])))
        for name, value in reading.get("facts", {}).items()
    ]


def warnings_of(reading: dict[str, Any]) -> list[str]:
    """The warnings of a reading document, in the reader's language."""
    return [_(warning["sentence"]) for warning in reading.get("warnings", [])]


def place_of_refusal(reading: dict[str, Any], payloads: list[str]) -> Place | None:
    """Where reading stopped, if the payload was kept and one place is to blame."""
    position, code = reading.get("position"), reading.get("code", 0)
    if position is None or code >= len(payloads) or not payloads[code]:
        return None
    text = payloads[code]
    start = max(0, position - AROUND)
    return Place(
        number=position + 1,
        before=("… " if start else "") + visible(text[start:position]),
        there=visible(text[position : position + 1]) or _("(the end)"),
        after=visible(text[position + 1 : position + AROUND]) + (" …" if len(text) > position + AROUND else ""),
    )


def visible(text: str) -> str:
    """``text`` with control characters shown as their pictures."""
    return text.translate(_PICTURES)


def _element_words(element: dict[str, Any]) -> str:
    title = _(element["title"]) if element["title"] else ""
    identifier = f"({element['identifier']})" if element["identifier"] else ""
    return " ".join(part for part in (identifier, title) if part)
