"""A scanned label pasted whole into the box: decoded, and looked for as what it says."""

from __future__ import annotations

import re
from dataclasses import dataclass

from fleet.labels.decode import decode
from fleet.labels.reading import Reading
from fleet.labels.sitecode import format_site_code
from fleet.models import Company
from fleet.queries.decoding import decode_options
from fleet.search.terms import Term, code_term

LONGEST_PAYLOAD = 2953
# What typed scraps do not look like: control characters, a link, an envelope, brackets around figures, a symbology
# identifier, an object, an element string.
_LIKE_A_LABEL = re.compile(
    r"[\x00-\x08\x0e-\x1f\u241d-\u2421]|\^\]|<GS>|\{GS\}|://|^\s*(?:\[\)>|\(\d{2,4}\)|\][A-Za-z]\d|\{|urn:|WIFI:"
    r"|(?:01|03)\d{14}|8006\d{18})|[\w ]{1,24}[:=].*[;,\n].*[:=]",
    re.IGNORECASE | re.DOTALL,
)


@dataclass(frozen=True, slots=True)
class Pasted:
    """What a label says, as terms to try one after the other, and the words for the reader."""

    terms: list[Term]
    read_as: str


def read_pasted(company: Company, text: str) -> Pasted | None:
    """The label that ``text`` is, or None where it is an ordinary text or says nothing to search for."""
    if len(text) > LONGEST_PAYLOAD or not _LIKE_A_LABEL.search(text):
        return None
    reading = decode(text, options=decode_options(company))
    if not isinstance(reading, Reading) or reading.standard == "plain":
        return None
    if reading.site_code:
        return Pasted([code_term(reading.site_code)], format_site_code(reading.site_code))
    codes = [code for code in (reading.serial, reading.asset_id, reading.mac) if code]
    return Pasted([code_term(code) for code in codes], codes[0]) if codes else None
