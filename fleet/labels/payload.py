"""A payload made ready for reading: one byte-order mark, outer white space and one symbology prefix taken off.

Written stand-ins for control characters (``␝``, ``{GS}``, ``^]``) become what they stand for. Places are kept, so that
a refusal can point into the payload as it was given.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from fleet.labels.reading import LONGEST_PAYLOAD, Refused

GS = "\x1d"
RS = "\x1e"
EOT = "\x04"

# ISO/IEC 15424: identifiers that announce FNC1 in first position, so that the data are GS1 element strings.
GS1_CARRIERS = frozenset(["]C1", "]e0", "]d2", "]d5", "]d8", "]Q3", "]Q4", "]J1", "]z1"])
# FNC1 in second position: an application indicator of another industry's follows (ISO/IEC 15424).
OTHER_INDUSTRIES = frozenset(["]C2", "]d3", "]d6", "]Q5", "]Q6", "]z2"])
GTIN_CARRIERS = {"]E0": 13, "]E4": 8, "]I1": 14}

_OUTER_SPACE = " \t\r\n"
_PREFIX = re.compile(r"\][A-Za-z][0-9A-Za-z]")
_PICTURES = str.maketrans({"␝": GS, "␞": RS, "␄": EOT})
_NOTATION = re.compile(r"\{(?:GS|RS|EOT)\}|\^\]")
_ENVELOPE_NOTATION = re.compile(r"\{(?:GS|RS|EOT)\}|\^\]|\^\^|\^D(?=\s*$)")
_GUESSED_NOTATION = re.compile(r"<(?:GS|RS|EOT)>")
_MEANING = {
    "{GS}": GS,
    "{RS}": RS,
    "{EOT}": EOT,
    "^]": GS,
    "^^": RS,
    "^D": EOT,
    "<GS>": GS,
    "<RS>": RS,
    "<EOT>": EOT,
}
_LOOKS_LIKE_ELEMENTS = re.compile(r"01\d{14}|8006\d{18}|21[^<]{1,20}<GS>01")


@dataclass(frozen=True, slots=True)
class Payload:
    """The text to read, the symbology identifier (``]Q1``) or an empty text, and where the text came from."""

    text: str
    symbology: str = ""
    guessed: bool = False
    """``<GS>`` was taken for a separator."""
    shift: int = 0
    notations: tuple[tuple[int, int], ...] = ()
    """For each replaced stand-in: its place in ``text`` and how many characters it lost."""

    def place(self, position: int | None) -> int | None:
        """Where a character of ``text`` stood in the payload as given."""
        if position is None:
            return None
        return self.shift + position + sum(lost for place, lost in self.notations if place < position)


def prepare(payload: str | bytes, symbology: str | None) -> Payload:
    """Make a payload ready. Raises :class:`Refused` for what no form of label may hold."""
    raw = _characters(payload)
    text = raw.removeprefix("\ufeff")
    text = text.lstrip(_OUTER_SPACE)
    symbology = symbology or ""
    prefix = _PREFIX.match(text)
    if prefix and prefix.group()[:2] == (symbology or prefix.group())[:2]:
        symbology = symbology or prefix.group()
        text = text[prefix.end() :].lstrip(_OUTER_SPACE)
    shift = len(raw) - len(text)
    text = text.rstrip(_OUTER_SPACE)
    if not text:
        raise Refused("empty")
    return _with_control_characters(text, symbology, shift)


def _characters(payload: str | bytes) -> str:
    if isinstance(payload, bytes):
        if len(payload) > LONGEST_PAYLOAD:
            raise Refused("too_long")
        try:
            return payload.decode()
        except UnicodeDecodeError as damage:
            raise Refused("bad_encoding", damage.start) from damage
    if len(payload) > LONGEST_PAYLOAD:
        raise Refused("too_long")
    try:
        size = len(payload.encode())
    except UnicodeEncodeError as damage:
        raise Refused("bad_encoding", damage.start) from damage
    if size > LONGEST_PAYLOAD:
        raise Refused("too_long")
    if "\ufffd" in payload:
        raise Refused("bad_encoding", payload.index("\ufffd"))
    return payload


def _with_control_characters(text: str, symbology: str, shift: int) -> Payload:
    text = text.translate(_PICTURES)
    is_envelope = text.startswith("[)>")
    text, notations = _replace(_ENVELOPE_NOTATION if is_envelope else _NOTATION, text)
    guessed = False
    if "<GS>" in text and GS not in text and _may_hold_separators(text, symbology):
        text, notations = _replace(_GUESSED_NOTATION, text)
        guessed = True
    return Payload(text, symbology, guessed, shift, notations)


def _may_hold_separators(text: str, symbology: str) -> bool:
    return text.startswith("[)>") or symbology in GS1_CARRIERS or bool(_LOOKS_LIKE_ELEMENTS.match(text))


def _replace(notation: re.Pattern[str], text: str) -> tuple[str, tuple[tuple[int, int], ...]]:
    pieces: list[str] = []
    places: list[tuple[int, int]] = []
    taken = length = 0
    for found in notation.finditer(text):
        pieces += [text[taken : found.start()], _MEANING[found.group()]]
        length += found.start() - taken + 1
        places.append((length - 1, len(found.group()) - 1))
        taken = found.end()
    if not places:
        return text, ()
    return "".join(pieces) + text[taken:], tuple(places)
