"""Addresses as they are written and as they go on the wire.

Django 5.2 spoils non-ASCII local parts and turns ``straße`` into ``strasse``; email-validator does neither (RFC 5321,
RFC 6531, IDNA 2008 by way of UTS 46, RFC 5891).
"""

import re
from dataclasses import dataclass

from email_validator import EmailNotValidError, validate_email

_CONTROL = re.compile(r"[\x00-\x08\x0a-\x1f\x7f-\x9f\u2028\u2029]")
LONGEST = 254  # RFC 5321 section 4.5.3.1.3, less the angle brackets


class BadAddress(ValueError):
    """Not an address that mail could be sent to; ``reason`` is a sentence in English."""

    def __init__(self, reason: str) -> None:
        super().__init__("not an address that mail could be sent to")
        self.reason = reason


@dataclass(frozen=True)
class UsableAddress:
    """``written`` for people, ``ascii`` for the wire (None where the local part needs SMTPUTF8), ``domain`` ASCII."""

    written: str
    ascii: str | None
    domain: str

    @property
    def on_the_wire(self) -> str:
        """The form for RCPT TO: wholly ASCII where possible, else with an ASCII domain only."""
        return self.ascii or f"{self.written.rpartition('@')[0]}@{self.domain}"


def usable_address(text: str) -> UsableAddress:
    """The address that ``text`` holds, spaces around it aside. Raises BadAddress; never looks a domain up.

    Special-use names (RFC 6761: ``.test``, ``.invalid``, ``.localhost``; also ``.local``, ``.onion``, ``.arpa``) are
    refused, since no mail reaches them. The reserved example domains of RFC 2606 are taken like any other.
    """
    if _CONTROL.search(text):
        raise BadAddress("The address contains control characters.")
    try:
        found = validate_email(text.strip(), check_deliverability=False, allow_smtputf8=True, strict=True)
    except EmailNotValidError as error:
        raise BadAddress(str(error)) from error
    if len(found.normalized) > LONGEST or len(found.ascii_domain) > 253:
        raise BadAddress("The address is too long.")
    return UsableAddress(written=found.normalized, ascii=found.ascii_email, domain=found.ascii_domain.lower())
