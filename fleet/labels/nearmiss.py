"""Did you mean: known serials that a typed or plain one may stand for, never chosen for the person.

A serial is folded for comparing: capital letters, no punctuation, no leading zeros, and one letter or digit for all
that are mistaken for each other on worn labels (O and 0, I, L and 1, S and 5, B and 8, Z and 2; common practice, no
source).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

_ALIKE = str.maketrans("OILSBZ", "011582")
_SHORTEST_FOR_EDITS = 5
_ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

WHY: dict[str, str] = {
    "same": "The same serial.",
    "case": "The same but for capital and small letters.",
    "punctuation": "The same but for spaces and punctuation.",
    "zeros": "The same but for leading zeros.",
    "alike": "The same but for characters that look alike.",
    "one_edit": "One character differs.",
    "swapped": "Two neighbouring characters are swapped.",
}
_RANKS = {why: rank for rank, why in enumerate(WHY)}


@dataclass(frozen=True, slots=True)
class NearMiss:
    """A known serial that may be meant, and why: a key of :data:`WHY`."""

    serial: str
    why: str


def folded(serial: str) -> str:
    """The form in which serials are compared; suits a database column. Never empty, seldom longer than the serial."""
    return _bare(serial).translate(_ALIKE).lstrip("0") or "0"


def near_misses(typed: str, known: Iterable[str], most: int = 10) -> list[NearMiss]:
    """The known serials that ``typed`` may stand for, the likeliest first."""
    found = (NearMiss(serial, why) for serial in set(known) if (why := _why(typed, serial)))
    return sorted(found, key=lambda miss: (_RANKS[miss.why], abs(len(miss.serial) - len(typed)), miss.serial))[:most]


def keys_within_one_edit(serial: str) -> Iterator[str]:
    """The folded form and all that are one edit away from it: keys to look up in a column of folded serials.

    About 70 keys for each character, so some 1,000 for a serial of 14. Short serials give their folded form only: with
    one edit they would mean anything.
    """
    key = folded(serial)
    yield key
    if len(key) < _SHORTEST_FOR_EDITS:
        return
    seen = {key}
    letters = sorted(set(_ALPHABET.translate(_ALIKE)))
    for place in range(len(key) + 1):
        head, tail = key[:place], key[place:]
        edits = [head + letter + tail for letter in letters]
        if tail:
            edits += [head + tail[1:], *(head + letter + tail[1:] for letter in letters)]
        if len(tail) > 1:
            edits.append(head + tail[1] + tail[0] + tail[2:])
        for edit in edits:
            refolded = folded(edit)
            if refolded not in seen:
                seen.add(refolded)
                yield refolded


def _bare(serial: str) -> str:
    return "".join(character for character in serial.upper() if character.isalnum())


def _why(typed: str, known: str) -> str | None:
    if typed == known:
        return "same"
    if typed.lower() == known.lower():
        return "case"
    one, other = _bare(typed), _bare(known)
    if not one or not other:
        return None
    if one == other:
        return "punctuation"
    if one.lstrip("0") == other.lstrip("0"):
        return "zeros"
    one, other = folded(typed), folded(known)
    if one == other:
        return "alike"
    if min(len(one), len(other)) < _SHORTEST_FOR_EDITS:
        return None
    if _is_swap(one, other):
        return "swapped"
    return "one_edit" if _is_one_edit(one, other) else None


def _is_swap(one: str, other: str) -> bool:
    if len(one) != len(other):
        return False
    places = [place for place, (a, b) in enumerate(zip(one, other, strict=True)) if a != b]
    return (
        len(places) == 2
        and places[1] == places[0] + 1
        and one[places[0]] == other[places[1]]
        and one[places[1]] == other[places[0]]
    )


def _is_one_edit(one: str, other: str) -> bool:
    """Whether one character changed, came or went."""
    if abs(len(one) - len(other)) > 1:
        return False
    shorter, longer = sorted((one, other), key=len)
    start = 0
    while start < len(shorter) and shorter[start] == longer[start]:
        start += 1
    if len(shorter) == len(longer):
        return shorter[start + 1 :] == longer[start + 1 :]
    return shorter[start:] == longer[start + 1 :]
