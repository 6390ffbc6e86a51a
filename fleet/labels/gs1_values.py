"""Checks on the values of GS1 elements: lengths, character sets, check digits, dates.

Sources: GS1 General Specifications sections 7.9 (check digits and characters), 7.11 (character sets) and 7.12
(two-digit years); GS1 Barcode Syntax Dictionary for what each component is checked for.
"""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Callable, Iterator

from fleet.labels.gs1_table import ApplicationIdentifier, Component
from fleet.labels.reading import Refused

DIGITS = frozenset("0123456789")
SET_82 = frozenset("!\"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz")
SET_39 = frozenset("#-/0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")
SET_64 = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_=")
_SETS = {"n": DIGITS, "x": SET_82, "y": SET_39, "z": SET_64}
_SET_82_ORDER = {character: value for value, character in enumerate(sorted(SET_82))}
_SET_32 = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
_PRIMES = (2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61, 67, 71, 73, 79, 83)


def has_check_digit(digits: str) -> bool:
    """Whether the last of some decimal digits is the GS1 check digit of the others (weights 3 and 1 from the right)."""
    return digits.isascii() and digits.isdigit() and check_digit(digits[:-1]) == digits[-1]


def check_digit(digits: str) -> str:
    """The GS1 check digit that belongs behind some decimal digits."""
    total = sum(int(digit) * (1 if place % 2 else 3) for place, digit in enumerate(reversed(digits)))
    return str(-total % 10)


def check_characters(text: str) -> str:
    """The pair of check characters of a product model number (General Specifications 7.9.5)."""
    weighted = (_SET_82_ORDER[character] * prime for character, prime in zip(reversed(text), _PRIMES, strict=False))
    high, low = divmod(sum(weighted) % 1021, 32)
    return _SET_32[high] + _SET_32[low]


def full_year(two_digits: int, today: dt.date) -> int:
    """The year from 49 years ago to 50 years ahead that ends in two digits."""
    first = today.year - 49
    return first + (two_digits - first) % 100


def date_of(digits: str, today: dt.date) -> dt.date | None:
    """``YYMMDD`` as a date, day 00 as the last of the month; None where there is no such day."""
    year, month, day = full_year(int(digits[:2]), today), int(digits[2:4]), int(digits[4:6])
    if not 1 <= month <= 12:
        return None
    last = calendar.monthrange(year, month)[1]
    return dt.date(year, month, day or last) if day <= last else None


def date_of_eight(digits: str) -> dt.date | None:
    """``YYYYMMDD`` as a date, or None where there is no such day."""
    try:
        return dt.date(int(digits[:4]), int(digits[4:6]), int(digits[6:8]))
    except ValueError:
        return None


def check_value(identifier: ApplicationIdentifier, value: str, position: int, today: dt.date) -> None:
    """Refuse a value that its identifier's format does not allow.

    ``position`` is where the value starts in the payload. Raises :class:`Refused`.
    """
    code = identifier.code
    if not identifier.shortest <= len(value) <= identifier.longest:
        raise Refused("bad_length", position + min(len(value), identifier.longest), code)
    for component, start, part in _split(identifier, value):
        if len(part) < component.shortest:
            raise Refused("bad_length", position + start + len(part), code)
        allowed = _SETS[component.kind]
        for offset, character in enumerate(part):
            if character not in allowed:
                raise Refused(reason_for_character(character), position + start + offset, code)
        for check in component.checks:
            _CHECKS[check](part, today, position + start, code)


def reason_for_character(character: str) -> str:
    """The reason class for a character that may not stand where it does."""
    if character < " " or character == "\x7f":
        return "control_char"
    return "bad_char" if character.isascii() else "non_ascii"


def _split(identifier: ApplicationIdentifier, value: str) -> Iterator[tuple[Component, int, str]]:
    start = 0
    for component in identifier.components:
        part = value[start : start + component.longest]
        if part or not component.optional:
            yield component, start, part
        start += len(part)
    if start < len(value):
        raise Refused("bad_length", None, identifier.code)


Check = Callable[[str, dt.date, int, str], None]


def _check_digit_fits(part: str, today: dt.date, position: int, code: str) -> None:
    if not has_check_digit(part):
        raise Refused("bad_check_digit", position + len(part) - 1, code)


def _check_pair_fits(part: str, today: dt.date, position: int, code: str) -> None:
    if len(part) < 3 or check_characters(part[:-2]) != part[-2:]:
        raise Refused("bad_check_digit", position + max(len(part) - 2, 0), code)


def _starts_with_company_prefix(part: str, today: dt.date, position: int, code: str) -> None:
    """The shortest company prefix has four digits."""
    if len(part) < 4:
        raise Refused("bad_length", position + len(part), code)
    for offset, character in enumerate(part[:4]):
        if character not in DIGITS:
            raise Refused("bad_char", position + offset, code)


def _is_date_or_month(part: str, today: dt.date, position: int, code: str) -> None:
    if date_of(part, today) is None:
        raise Refused("bad_date", position, code)


def _is_date(part: str, today: dt.date, position: int, code: str) -> None:
    if part.endswith("00") or date_of(part, today) is None:
        raise Refused("bad_date", position, code)


def _is_date_of_eight(part: str, today: dt.date, position: int, code: str) -> None:
    if date_of_eight(part) is None:
        raise Refused("bad_date", position, code)


def _at_most(hours: int, minutes: int, whole_day: str = "") -> Check:
    def check(part: str, today: dt.date, position: int, code: str) -> None:
        if part != whole_day and (int(part[:2]) > hours or int(part[2:] or 0) > minutes):
            raise Refused("bad_date", position, code)

    return check


def _is_piece_of_total(part: str, today: dt.date, position: int, code: str) -> None:
    piece, total = int(part[:2]), int(part[2:])
    if not 1 <= piece <= total:
        raise Refused("bad_structure", position, code)


def _is_iban(part: str, today: dt.date, position: int, code: str) -> None:
    """ISO 13616: letters count from 10, the first four characters go last, and the remainder by 97 is one."""
    if not (part.isalnum() and part.isupper() and len(part) > 4):
        raise Refused("bad_char", position, code)
    if int("".join(str(int(character, 36)) for character in part[4:] + part[:4])) % 97 != 1:
        raise Refused("bad_check_digit", position + 2, code)


def _in_range(lowest: int, highest: int) -> Check:
    def check(part: str, today: dt.date, position: int, code: str) -> None:
        if not lowest <= int(part) <= highest:
            raise Refused("bad_structure", position, code)

    return check


def _one_of(*allowed: str) -> Check:
    def check(part: str, today: dt.date, position: int, code: str) -> None:
        if part not in allowed:
            raise Refused("bad_structure", position, code)

    return check


def _has_no_leading_zero(part: str, today: dt.date, position: int, code: str) -> None:
    if part.startswith("0"):
        raise Refused("bad_structure", position, code)


def _has_other_than_digits(part: str, today: dt.date, position: int, code: str) -> None:
    if part.isdigit():
        raise Refused("bad_structure", position, code)


def _is_percent_encoded(part: str, today: dt.date, position: int, code: str) -> None:
    for offset, character in enumerate(part):
        if character == "%" and not _is_hexadecimal(part[offset + 1 : offset + 3]):
            raise Refused("bad_encoding", position + offset, code)


def _is_hexadecimal(pair: str) -> bool:
    return len(pair) == 2 and set(pair) <= frozenset("0123456789ABCDEFabcdef")


def _is_sequence(part: str, today: dt.date, position: int, code: str) -> None:
    if not (part[0] in DIGITS and part[1] == "/" and part[2] in DIGITS and "1" <= part[0] <= part[2]):
        raise Refused("bad_structure", position, code)


def _is_country_list(part: str, today: dt.date, position: int, code: str) -> None:
    if len(part) % 3:
        raise Refused("bad_length", position + len(part), code)
    for start in range(0, len(part), 3):
        _in_range(4, 894)(part[start : start + 3], today, position + start, code)


def _is_letters(part: str, today: dt.date, position: int, code: str) -> None:
    if not (part.isalpha() and part.isupper()):
        raise Refused("bad_char", position, code)


# Country and currency numbers are checked for their range only (ISO 3166-1: 004 to 894; ISO 4217: 008 to 999).
_COUNTRY = _in_range(4, 894)
_CHECKS: dict[str, Check] = {
    "csum": _check_digit_fits,
    "csumalpha": _check_pair_fits,
    "prefix1": _starts_with_company_prefix,
    "prefix2": lambda part, today, position, code: None,  # All digits already.
    "date0": _is_date_or_month,
    "date": _is_date,
    "date8": _is_date_of_eight,
    "clock": _at_most(23, 59),
    "time": _at_most(23, 59, whole_day="9999"),
    "hour": _at_most(23, 0),
    "minute": _in_range(0, 59),
    "piece": _is_piece_of_total,
    "iban": _is_iban,
    "zero": _one_of("0"),
    "yesno": _one_of("0", "1"),
    "hyphen": _one_of("-"),
    "winding": _one_of("0", "1", "9"),
    "sex": _one_of("0", "1", "2", "9"),
    "media": _in_range(1, 99),
    "nonzero": _in_range(1, 99999),
    "latitude": _in_range(0, 1_800_000_000),
    "longitude": _in_range(0, 3_600_000_000),
    "nozeroprefix": _has_no_leading_zero,
    "hasnondigit": _has_other_than_digits,
    "percent": _is_percent_encoded,
    "sequence": _is_sequence,
    "country": _COUNTRY,
    "country999": lambda part, today, position, code: None if part == "999" else _COUNTRY(part, today, position, code),
    "countries": _is_country_list,
    "country2": _is_letters,
    "currency": _in_range(8, 999),
    "importer": lambda part, today, position, code: None,  # Any character of set 82 but those checked already.
}
