"""The short public code of a site: seven symbols of Crockford's Base32 and one check symbol.

Source: Douglas Crockford, "Base 32", https://www.crockford.com/base32.html (alphabet without I, L, O and U;
decoding takes O for 0 and I or L for 1; check symbol is the value modulo 37). A code is drawn again until its
check symbol is one of the 32 ordinary symbols, so that nobody has to say "asterisk" or "dollar" on the telephone.
"""

from __future__ import annotations

from collections.abc import Iterable
from random import Random

SYMBOLS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
BODY_LENGTH = 7
CODE_LENGTH = BODY_LENGTH + 1
_CHECK_MODULUS = 37
_LONGEST_TYPED = 40
_VALUES = {symbol: value for value, symbol in enumerate(SYMBOLS)}
_AS_MEANT = str.maketrans("OIL", "011")
# What people and their phones put between the halves: spaces, hyphens and typographic dashes.
_SEPARATORS = dict.fromkeys(map(ord, " \t\r\n\u00a0-\u2010\u2011\u2012\u2013\u2014\u2212"))


def new_site_code(random: Random) -> str:
    """Draw a code of eight symbols, without the hyphen. Pass ``random.SystemRandom()`` outside tests."""
    while True:
        body = "".join(random.choices(SYMBOLS, k=BODY_LENGTH))
        check = _check_value(body)
        if check < len(SYMBOLS):
            return body + SYMBOLS[check]


def parse_site_code(text: str) -> str | None:
    """The eight symbols meant by typed or spoken text, or None where no code or a mistaken one was given."""
    if len(text) > _LONGEST_TYPED:
        return None
    code = text.translate(_SEPARATORS)
    if not code.isascii():
        return None
    code = code.upper().translate(_AS_MEANT)
    if len(code) != CODE_LENGTH or not _are_symbols(code):
        return None
    return code if _check_value(code[:BODY_LENGTH]) == _VALUES[code[-1]] else None


def format_site_code(code: str) -> str:
    """``ABCDEFGH`` as it is printed: ``ABCD-EFGH``."""
    return f"{code[:4]}-{code[4:]}"


def _are_symbols(code: Iterable[str]) -> bool:
    return all(symbol in _VALUES for symbol in code)


def _check_value(body: str) -> int:
    value = 0
    for symbol in body:
        value = value * len(SYMBOLS) + _VALUES[symbol]
    return value % _CHECK_MODULUS
