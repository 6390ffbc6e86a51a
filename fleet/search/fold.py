"""One folding for everything that is indexed and everything that is typed. Pure Python, no Django.

Folding drops case and marks, so that ``São João`` and ``sao joao`` are the same words; letters that Unicode does not
decompose (ø ł đ ð þ æ œ ı ß) have a map of their own. The *skeleton* of a code is its pieces joined, with the letters
that people confuse with digits turned into those digits: ``SO-1l 7`` and ``S01I7`` have the same skeleton.
"""

from __future__ import annotations

import re
import unicodedata

_OWN_LETTERS = str.maketrans(
    {"ø": "o", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "æ": "ae", "œ": "oe", "ı": "i", "ß": "ss", "ħ": "h", "ŧ": "t"}
)
LOOK_ALIKES = str.maketrans("oil", "011")
_ASCII_GAPS = dict.fromkeys(code for code in range(128) if not chr(code).isalnum())
_PIECE = re.compile(r"[^\W_]+")


def fold(text: str) -> str:
    """``text`` without case and marks; punctuation and spaces stay."""
    if text.isascii():
        return text.lower()
    decomposed = unicodedata.normalize("NFKD", text.casefold().translate(_OWN_LETTERS))
    bare = "".join(character for character in decomposed if not unicodedata.combining(character))
    return bare.casefold().translate(_OWN_LETTERS)


def pieces(text: str) -> list[str]:
    """The folded runs of letters and digits of ``text``, in order."""
    return _PIECE.findall(fold(text))


def joined(text: str) -> str:
    """The pieces of ``text`` without anything between them."""
    if text.isascii():
        return text.lower().translate(_ASCII_GAPS)
    return "".join(pieces(text))


def sorting_key(text: str) -> str:
    """What ``text`` is put in order by: its pieces, numbers by their size."""
    return " ".join(piece.zfill(5) if piece.isdecimal() else piece for piece in pieces(text))


def skeleton(text: str) -> str:
    """The pieces of ``text`` joined, ``o`` turned into ``0``, ``i`` and ``l`` into ``1``."""
    return joined(text).translate(LOOK_ALIKES)


def folded_with_places(text: str) -> tuple[str, list[int]]:
    """``text`` folded, and for each folded character the place of the original one that it came from."""
    folded: list[str] = []
    places: list[int] = []
    for place, character in enumerate(text):
        for bare in fold(character):
            folded.append(bare)
            places.append(place)
    return "".join(folded), places
