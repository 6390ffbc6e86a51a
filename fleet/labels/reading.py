"""What comes out of the decoder: a :class:`Reading` of one label, or a :class:`Refusal` that says why not.

Nothing here keeps a refused payload: a refusal carries its class and length only, so that Wi-Fi passwords and
contact cards never reach a log or a table by way of an error.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import NamedTuple, Protocol

LONGEST_PAYLOAD = 2953
"""Bytes; the most that a QR code holds (ISO/IEC 18004, version 40-L, byte mode)."""

LONGEST_PLAIN_SERIAL = 64
"""Characters of a serial that no standard bounds; a bound of our own."""

LONGEST_SERIAL = 255
"""Characters of any serial: an identification link (IEC 61406-1) is at most this long."""


class Identity(NamedTuple):
    """Who numbered the device, and the number: what makes two readings mean the same unit.

    ``scheme`` is ``gs1-gtin``, ``gs1-cpid``, ``gs1-asset``, ``cage``, ``12V``, ``18V``, ``25V``, ``25S``, ``37S`` or
    ``domain``; for a serial without a known issuer, ``scheme`` and ``issuer`` are both empty. Such a serial is one
    unit's only together with what it is numbered ``within``: ``part:AB-100``, or ``form:KEY/MODEL`` for a label form
    of the company. Where that is empty too, nothing but a person can say which unit is meant.
    """

    scheme: str
    issuer: str
    serial: str
    within: str = ""

    @property
    def names_one_unit(self) -> bool:
        """Whether it tells units apart by itself."""
        return bool(self.issuer or self.within or self.scheme)


@dataclass(frozen=True, slots=True)
class Element:
    """One data element of a label: ``(21) SERIAL = SN0001, at character 16, gave the serial``."""

    identifier: str
    title: str
    value: str
    position: int
    """Where the identifier starts in the payload, counted in characters from 0."""
    fact: str = ""
    """The field of :class:`Reading` that it gave, or empty where it gave none."""
    code: int = 0
    """Which code of the label it stood in, counted from 0."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """The facts that one label states about one device. ``None`` means: the label does not say."""

    standard: str
    """The form it was read as; a key of :data:`STANDARDS`."""
    gtin: str | None = None
    """14 digits."""
    serial: str | None = None
    """Verbatim: case, zeros and punctuation as printed."""
    part_number: str | None = None
    batch: str | None = None
    date: dt.date | None = None
    """Production date."""
    manufacturer_code: str | None = None
    """With the identifier that gave it: ``18V:LEXYZ``, ``domain:www.domain-abc.com``."""
    mac: str | None = None
    """12 capital hexadecimal digits."""
    asset_id: str | None = None
    """``8003:…`` or ``8004:…``."""
    maker: str | None = None
    model: str | None = None
    site_code: str | None = None
    """The eight symbols of one of our own plates."""
    confirm: bool = False
    """A person must confirm it before anything is linked."""
    elements: tuple[Element, ...] = ()
    warnings: tuple[str, ...] = ()
    """Keys of :data:`WARNINGS`."""
    issuer_scheme: str = ""
    issuer: str = ""
    taught_by: str = ""
    """The company's label form that read it; empty for the standards."""

    @property
    def identity(self) -> Identity | None:
        """The device that is meant, or None where the label names a type, a batch or a place only."""
        if self.serial is not None:
            within = "" if self.issuer_scheme else self._numbered_within()
            return Identity(self.issuer_scheme, self.issuer, self.serial, within)
        if self.asset_id is not None and names_one_asset(self.asset_id):
            return Identity("gs1-asset", "", self.asset_id)
        return None

    def _numbered_within(self) -> str:
        if self.part_number:
            return f"part:{self.part_number}"
        return f"form:{self.taught_by}/{self.model or ''}" if self.taught_by else ""

    def facts(self) -> dict[str, str | dt.date]:
        """The facts that were read, by field name."""
        found = {name: getattr(self, name) for name in FACT_NAMES}
        return {name: value for name, value in found.items() if value is not None}

    def needing_confirmation(self, *warnings: str) -> Reading:
        """The same reading, to be confirmed by a person, with warnings that say why."""
        return replace(self, confirm=True, warnings=self.warnings + warnings)


FACT_NAMES = tuple(
    field.name
    for field in fields(Reading)
    if field.name not in {"standard", "confirm", "elements", "warnings", "issuer_scheme", "issuer", "taught_by"}
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Why a label was not read: the class, the exact place, and of the payload its class and length only."""

    reason: str
    """A key of :data:`REASONS`."""
    position: int | None = None
    """The character of the payload where reading stopped, counted from 0; None where no one place is to blame."""
    identifier: str = ""
    """The identifier of the element at fault, such as ``01`` or ``16D``, where there is one."""
    payload_class: str = ""
    """A key of :data:`STANDARDS`, or the family of a payload that is never kept (``wifi``, ``contact`` …)."""
    payload_length: int = 0
    secret: bool = False
    """The payload belongs to a family that must be kept nowhere."""
    code: int = 0
    """Which code of the label was at fault, counted from 0."""
    candidates: tuple[Reading, ...] = ()
    """For ``conflict``: the readings among which a person may choose."""

    @property
    def message(self) -> str:
        """The English sentence for the reason; callers translate it."""
        return REASONS[self.reason]


class Refused(Exception):
    """Raised inside the decoder where reading stops; :func:`fleet.labels.decode.decode` turns it into a refusal."""

    def __init__(self, reason: str, position: int | None = None, identifier: str = "") -> None:
        super().__init__(reason)
        self.reason = reason
        self.position = position
        self.identifier = identifier


class TaughtForm(Protocol):
    """A label form that a company has taught: see :class:`fleet.labels.forms.LabelForm`."""

    @property
    def key(self) -> str:
        """What stays the same when the form is renamed or its pattern changes."""

    def read(self, text: str) -> Mapping[str, str] | None:
        """The facts in a text by their field name, or None where the text is not of this form."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DecodeOptions:
    """What the decoder must know about the day and the company."""

    today: dt.date
    """For the century of two-digit years."""
    link_domains: frozenset[str] = frozenset()
    """Hosts whose links are identification links (IEC 61406-1), in small letters."""
    base_urls: tuple[str, ...] = ()
    """Our own addresses: a plate's code holds one of them and ``/s/CODE``."""
    label_forms: tuple[TaughtForm, ...] = ()
    """The company's own :class:`fleet.labels.forms.LabelForm` objects, tried in order after the standards."""


SERIAL_WITHIN_PART = frozenset({"", "12V", "17V", "18V", "25V"})
"""Issuer schemes under which a maker may number each product from one: a serial beside a manufacturer code is unique
within its part number (MIL-STD-130N, construct 2; ISO/IEC 15459-4). GTIN, 25S, 37S and links tell units apart alone."""


def names_one_asset(asset_id: str) -> bool:
    """Whether a GS1 asset identifier means one unit: a GIAI always, a GRAI only with its serial part."""
    return asset_id.startswith("8004:") or len(asset_id) > len("8003:") + 14


STANDARDS: dict[str, str] = {
    "gs1-element-string": "GS1 element string",
    "gs1-ean": "GTIN in an EAN, UPC or ITF-14 code",
    "gs1-bracketed": "GS1 element string in its readable form, with brackets",
    "gs1-digital-link": "GS1 Digital Link",
    "epc-urn": "EPC pure identity URN of an SGTIN",
    "iso-15434": "ISO/IEC 15434 message",
    "iso-18975": "Link with data identifiers (ISO/IEC 18975, IEC 61406-2)",
    "iec-61406": "Identification link (IEC 61406-1)",
    "query-keys": "Link with plain keys",
    "json": "JSON text",
    "key-value": "Text of keys and values",
    "mac": "MAC address",
    "plate": "Site plate",
    "label-form": "Label form of the company",
    "plain": "Plain text",
    "label": "Several codes on one label",
}

REASONS: dict[str, str] = {
    "empty": "The code holds nothing.",
    "too_long": "The code holds more text than its kind may.",
    "bad_encoding": "The text in the code is damaged: it cannot be read as characters.",
    "control_char": "The code holds a control character where none may stand.",
    "non_ascii": "The code holds a character outside the ASCII set, which no identifier may hold.",
    "bad_char": "The code holds a character that may not stand in this place.",
    "bad_length": "A value in the code is too long, too short or missing.",
    "bad_check_digit": "A check digit in the code does not fit: a digit is wrong.",
    "bad_date": "A date in the code does not exist.",
    "unknown_ai": "The code uses an application identifier that GS1 has not assigned.",
    "unknown_di": "The code uses something that is not a data identifier.",
    "missing_key": "The code lacks the element that another one in it depends on.",
    "duplicate": "The code states the same thing twice, and it should only once.",
    "ai_order": "The parts of the link stand in an order that is not allowed.",
    "bad_structure": "The code is not built as its standard demands.",
    "bad_envelope": "The message frame of the code is damaged.",
    "nested_envelope": "The code holds one message inside another.",
    "separators_lost": "The separators between the parts of the code were lost, so the parts cannot be told apart.",
    "deprecated_alpha_key": "The link uses names instead of numbers for its parts, which is no longer allowed.",
    "unsafe_url": "The link is of a kind that is not safe to take as an identifier.",
    "not_an_identifier": "The code identifies nothing.",
    "not_a_device": "The code identifies something other than a device.",
    "unknown_format": "The code uses a format that is not known here.",
    "ambiguous": "The code can be read in more than one way.",
    "conflict": "The codes on the label contradict each other.",
}

WARNINGS: dict[str, str] = {
    "fnc1_missing": "The code is not marked as GS1 data, although its text is.",
    "separator_guessed": "The text <GS> was taken for a separator.",
    "separator_extra": "A separator stands where none is needed.",
    "spaces_dropped": "Spaces between the elements were dropped.",
    "repeated_element": "An element is there twice with the same value.",
    "header_repaired": "The record separator after the message header was missing.",
    "trailer_repaired": "The end of the message was missing.",
    "not_understood": "An identifier is not in our table; its value was not used.",
    "code_ignored": "A code on the label identifies nothing and was left out.",
    "value_ignored": "A value could not be used and was left out.",
}
