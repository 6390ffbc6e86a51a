"""From the words of a site to the tokens it is found by.

A token is a letter for its class and a folded text: ``w`` a word, ``s`` the skeleton of a code, an address or a number
from its beginning, ``r`` the last eight characters of a skeleton backwards. A token that holds only for what was once
so ends in ``!``, which sorts before every letter and digit: the range of a beginning holds both, exact ones first.
Pure: no database.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from functools import lru_cache

from fleet.search.fold import fold, joined, pieces, skeleton
from fleet.search.words import Shape, Word

EDITION = 1
"""Goes up with every change of what tokens are made; ``rebuild_search`` writes older documents anew."""

PAST = "!"
LONGEST_TOKEN = 64
SHORTEST_CODE = 3
SUFFIX = 8
SHORTEST_SUFFIX = 4
SHORTEST_CORRECTED = 3
LONGEST_CORRECTED = 40

_DIGITS_AND_LETTERS = re.compile(r"\d+|[^\W\d_]+")
_TRUNK_ZERO = re.compile(r"\(0\)")
# ITU-T E.164: codes of one digit and of two; all others have three. From memory.
_ONE_DIGIT_CODES = ("1", "7")
_TWO_DIGIT_CODES = re.compile(r"2[07]|3[0-469]|4[013-9]|5[1-8]|6[0-6]|8[1246]|9[0-58]")


def tokens_of(words: Iterable[Word]) -> tuple[set[str], set[str]]:
    """The tokens of what is so now, and of what was so once only (these end in ``!``)."""
    present: set[str] = set()
    past: set[str] = set()
    for word in words:
        (past if word.past else present).update(_tokens(word.shape, word.text))
    return present, {token + PAST for token in past - present}


def vocabulary_of(tokens: Iterable[str]) -> set[str]:
    """The words among ``tokens`` that a mistyped word may be corrected to: letters only, not too short or long."""
    words = (token[1:].rstrip(PAST) for token in tokens if token[0] == "w")
    return {word for word in words if is_correctable(word)}


def is_correctable(word: str) -> bool:
    """Whether a word takes part in corrections."""
    return word.isalpha() and SHORTEST_CORRECTED <= len(word) <= LONGEST_CORRECTED


def backwards(skeleton_text: str) -> str:
    """The last eight characters, the last one first."""
    return skeleton_text[-SUFFIX:][::-1]


def variants_of(word: str) -> set[str]:
    """The word, and the word with each of its letters left out."""
    return {word, *(word[:at] + word[at + 1 :] for at in range(len(word)))}


def telephone_digits(text: str) -> list[str]:
    """The digits of a number as it may be dialled: with its country code, and without."""
    bare = _TRUNK_ZERO.sub("", text)
    digits = "".join(re.findall(r"\d", bare))
    if bare.lstrip().startswith("+"):
        international = digits
    elif digits.startswith("00"):
        international = digits[2:]
    else:
        return [digits.lstrip("0") or digits] if digits else []
    return [international, international[_country_code_length(international) :].lstrip("0")]


def _country_code_length(digits: str) -> int:
    if digits.startswith(_ONE_DIGIT_CODES):
        return 1
    return 2 if _TWO_DIGIT_CODES.match(digits) else 3


@lru_cache(maxsize=4096)
def _tokens(shape: Shape, text: str) -> tuple[str, ...]:
    return tuple(token[:LONGEST_TOKEN] for token in _BY_SHAPE[shape](text) if len(token) > 1)


def _of_words(text: str) -> Iterator[str]:
    before = ""
    for group in text.split():
        parts = pieces(group)
        if len(parts) > 1:
            yield "w" + "".join(parts)
        for part in parts:
            yield "w" + part
            if not part.isalpha() and not part.isdigit():
                yield from ("w" + run for run in _DIGITS_AND_LETTERS.findall(part))
            if before.isdigit() and part.isalpha() and len(part) == 1:
                yield "w" + before + part  # "12 A" is found as "12a"
            before = part


def _of_numbered(text: str) -> Iterator[str]:
    yield from _of_words(text)
    parts = pieces(text)
    for at in range(len(parts)):
        if len(together := "".join(parts[at:])) >= SHORTEST_CODE:
            yield "s" + skeleton(together)


def _of_serial(text: str) -> Iterator[str]:
    bones = skeleton(text)
    yield "s" + bones
    if len(bones) >= SHORTEST_SUFFIX:
        yield "r" + backwards(bones)


def _of_email(text: str) -> Iterator[str]:
    local, _, domain = fold(text).rpartition("@")
    parts = pieces(local)
    for at in range(len(parts)):
        yield "s" + skeleton("".join(parts[at:]) + joined(domain))
    yield "s" + skeleton(domain)


def _of_phone(text: str) -> Iterator[str]:
    for digits in telephone_digits(text):
        yield from _of_serial(digits)


_BY_SHAPE = {
    Shape.WORDS: _of_words,
    Shape.NUMBERED: _of_numbered,
    Shape.SERIAL: _of_serial,
    Shape.EMAIL: _of_email,
    Shape.PHONE: _of_phone,
}
