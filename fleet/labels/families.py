"""Payloads that are recognised only to be refused: secrets, contacts and links that must not be followed.

Of these nothing is ever kept but the family and the length.
"""

from __future__ import annotations

import re

# What the text starts with, in capitals -> family. Wi-Fi, contact and calendar forms are de-facto standards of
# the makers of telephones; vCard is RFC 6350, iCalendar RFC 5545, mailto RFC 6068, tel RFC 3966, sms RFC 5724,
# geo RFC 5870, otpauth a convention of authenticators, LPA the eSIM activation code of GSMA SGP.22, DPP Wi-Fi Easy
# Connect; MT and X-HM are set-up secrets of home automation; from memory.
FAMILIES = {
    "WIFI:": "wifi",
    "DPP:": "wifi",
    "BEGIN:VCARD": "contact",
    "MECARD:": "contact",
    "BIZCARD:": "contact",
    "BEGIN:VCALENDAR": "calendar",
    "BEGIN:VEVENT": "calendar",
    "MAILTO:": "mail",
    "MATMSG:": "mail",
    "SMTP:": "mail",
    "TEL:": "telephone",
    "SMS:": "telephone",
    "SMSTO:": "telephone",
    "MMS:": "telephone",
    "MMSTO:": "telephone",
    "FACETIME:": "telephone",
    "SIP:": "telephone",
    "GEO:": "place",
    "OTPAUTH:": "secret",
    "OTPAUTH-MIGRATION:": "secret",
    "LPA:": "secret",
    "MT:": "secret",
    "X-HM:": "secret",
    "FIDO:": "secret",
    "BITCOIN:": "payment",
    "ETHEREUM:": "payment",
    "UPI:": "payment",
    "BCD\n": "payment",
    "SPC\n": "payment",
    "MARKET:": "link",
    "URLTO:": "link",
    "MEBKM:": "link",
}
_LONGEST = max(map(len, FAMILIES)) + 8
_BEFORE = "\"'`\u2018-\u201f\u00ab\u2039(<"
BEFORE = rf"^(?:[\s\ufeff\u200b{_BEFORE}]|\][A-Za-z][0-9A-Za-z])*"
"""What may stand before a text without being part of it: space, marks, quotation marks, a symbology identifier."""
_BEFORE_TEXT = re.compile(BEFORE)
_SPACED_COLON = re.compile(r"^([A-Z-]+)\s*:\s*")


def family_of(text: str) -> str | None:
    """The refused family of a text, or None; quotation marks and spaces around its first word hide none."""
    start = _BEFORE_TEXT.sub("", text)[:_LONGEST].replace("\r\n", "\n").upper()
    start = _SPACED_COLON.sub(r"\1:", start)
    head, colon, rest = start.partition(":")
    for known in (head + colon, start[:4], f"BEGIN:{rest.partition(chr(10))[0]}" if head == "BEGIN" else ""):
        if known in FAMILIES:
            return FAMILIES[known]
    return None
