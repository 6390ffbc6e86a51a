"""Reading where a place is from what people paste: degrees in any usual form, a geo: link, a link to a map.

Links are parsed, never opened. Forms: RFC 5870 (geo URI); ISO 6709, annex D (degrees, minutes and seconds as people
write them); the keys and fragments in which map pages put a place are common practice, no source.
"""

import re
from dataclasses import dataclass
from decimal import Decimal
from urllib.parse import parse_qs, unquote, urlsplit

LONGEST = 2000
_PAIR_KEYS = ("q", "query", "ll", "daddr", "destination", "center", "sll", "cp")
_SPLIT_KEYS = (("mlat", "mlon"), ("lat", "lon"), ("lat", "lng"), ("latitude", "longitude"))
_POINT = r"[-+]?\d{1,3}(?:\.\d+)?"
_COMMA = r"[-+]?\d{1,3},\d+"
_POINTS = re.compile(rf"({_POINT})\s*[,;/~\s]\s*({_POINT})")
_COMMAS = re.compile(rf"({_COMMA})\s*(?:[;/\s]\s*|,\s+)({_COMMA})")
_ANGLE = r"([-+]?\d{1,3}(?:[.,]\d+)?)\s*[°\s]?\s*(?:(\d{1,2}(?:[.,]\d+)?)\s*['\s]\s*)?(?:(\d{1,2}(?:[.,]\d+)?)\s*\"?)?"
_LETTER = r"\s*([NSEW])\s*"
_LETTERS_BEHIND = re.compile(rf"{_ANGLE}{_LETTER}[,;/]?\s*{_ANGLE}{_LETTER}")
_LETTERS_BEFORE = re.compile(rf"{_LETTER}{_ANGLE}\s*[,;/]?{_LETTER}{_ANGLE}")
_SIGNED_ANGLES = re.compile(rf"{_ANGLE}[,;/\s]\s*{_ANGLE}")
_LIKE_ASCII = str.maketrans({"−": "-", "–": "-", "º": "°", "˚": "°", "’": "'", "′": "'", "″": '"', "”": '"', "“": '"'})
_IN_PATH = re.compile(rf"@({_POINT}),({_POINT})(?:[,/]|$)")
_IN_DATA = re.compile(rf"!3d({_POINT})!4d({_POINT})")
_IN_FRAGMENT = re.compile(rf"(?:^|[=/])\d{{1,2}}(?:\.\d+)?/({_POINT})/({_POINT})(?:/|&|$)")


class BadPlace(ValueError):
    """No place can be read from the text. ``reason``: ``no_coordinates``, ``out_of_range`` or ``unclear``."""

    def __init__(self, reason: str) -> None:
        self.reason = reason
        super().__init__(reason)


@dataclass(frozen=True)
class Place:
    """Degrees north and east, to six places (about a hand's breadth)."""

    latitude: Decimal
    longitude: Decimal

    def __str__(self) -> str:
        return f"{self.latitude.normalize():f}, {self.longitude.normalize():f}"


def read_place(text: str) -> Place:
    """The place that ``text`` names. Raises BadPlace."""
    text = " ".join(text.translate(_LIKE_ASCII).replace("''", '"').split())
    if not text or len(text) > LONGEST:
        raise BadPlace("no_coordinates")
    if text.lower().startswith("geo:"):
        return _of_geo(text[4:])
    if "://" in text:
        return _of_link(text)
    return _of_numbers(text.strip("()[]"))


def _of_geo(rest: str) -> Place:
    """RFC 5870: latitude, longitude, maybe a height, parameters; telephones put the pin into ``q`` behind 0,0."""
    pin = parse_qs(urlsplit(f"//x/?{rest.partition('?')[2]}").query).get("q", [""])[0]
    if found := _POINTS.match(pin):
        return _place(found[1], found[2])
    numbers = rest.partition("?")[0].partition(";")[0].split(",")
    if len(numbers) not in (2, 3) or not all(re.fullmatch(_POINT + r"|[-+]?\d+(?:\.\d+)?", part) for part in numbers):
        raise BadPlace("no_coordinates")
    return _place(numbers[0], numbers[1])


def _of_link(text: str) -> Place:
    """A pin before the middle of the picture: single keys, a pair in a key, then path, data and fragment."""
    try:
        parts = urlsplit(text)
        keys = {name.lower(): values[0] for name, values in parse_qs(parts.query).items()}
    except ValueError as error:
        raise BadPlace("no_coordinates") from error
    for north, east in _SPLIT_KEYS:
        if re.fullmatch(_POINT, keys.get(north, "")) and re.fullmatch(_POINT, keys.get(east, "")):
            return _place(keys[north], keys[east])
    for key in _PAIR_KEYS:
        value = keys.get(key, "").removeprefix("loc:")
        if found := _POINTS.match(value):
            return _place(found[1], found[2])
    path = unquote(parts.path)
    for pattern, where in ((_IN_DATA, path), (_IN_PATH, path), (_IN_FRAGMENT, parts.fragment)):
        if found := pattern.search(where):
            return _place(found[1], found[2])
    if found := re.search(rf"/({_POINT}),\+?({_POINT})(?:/|$)", path):
        return _place(found[1], found[2])
    raise BadPlace("no_coordinates")


def _of_numbers(text: str) -> Place:
    if found := _COMMAS.fullmatch(text):
        return _place(found[1].replace(",", "."), found[2].replace(",", "."))
    if re.fullmatch(r"[-+]?\d+,\d+", text):  # one number with a decimal comma, or two without decimals
        raise BadPlace("unclear")
    if found := _POINTS.fullmatch(text):
        return _place(found[1], found[2])
    text = text.upper()
    if found := _LETTERS_BEHIND.fullmatch(text):
        return _of_angles((found[4], found.group(1, 2, 3)), (found[8], found.group(5, 6, 7)))
    if found := _LETTERS_BEFORE.fullmatch(text):
        return _of_angles((found[1], found.group(2, 3, 4)), (found[5], found.group(6, 7, 8)))
    if "°" in text and (found := _SIGNED_ANGLES.fullmatch(text)):
        return _of_angles(("", found.group(1, 2, 3)), ("", found.group(4, 5, 6)))
    raise BadPlace("no_coordinates")


_Angle = tuple[str, tuple[str | None, ...]]


def _of_angles(first: _Angle, second: _Angle) -> Place:
    """Two angles, each a letter (or none) and its degrees, minutes and seconds."""
    if first[0] and (first[0] in "NS") == (second[0] in "NS"):
        raise BadPlace("unclear")
    degrees = [_degrees(*first), _degrees(*second)]
    if first[0] in ("E", "W"):
        degrees.reverse()
    return _checked(*degrees)


def _degrees(letter: str, parts: tuple[str | None, ...]) -> Decimal:
    texts = [(part or "0").replace(",", ".") for part in parts]
    whole, minutes, seconds = (Decimal(text) for text in texts)
    signed = texts[0].startswith("-")
    if minutes >= 60 or seconds >= 60:
        raise BadPlace("out_of_range")
    if (signed and letter) or ("." in texts[0] and any(parts[1:])) or ("." in texts[1] and parts[2]):
        raise BadPlace("unclear")
    value = abs(whole) + minutes / 60 + seconds / 3600
    return -value if signed or letter in ("S", "W") else value


def _place(north: str, east: str) -> Place:
    return _checked(Decimal(north), Decimal(east))


def _checked(north: Decimal, east: Decimal) -> Place:
    if abs(north) > 90 or abs(east) > 180:
        raise BadPlace("out_of_range")
    return Place(round(north, 6), round(east, 6))
