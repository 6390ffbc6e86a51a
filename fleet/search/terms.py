"""From what was typed to what is looked for. Pure: no database.

A text can mean several things: ``912 345 678`` is a number written with spaces, or three words. :func:`readings_of`
gives the meanings in the order in which they are tried; each is a list of terms that must all hold.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import groupby

from fleet.search.fold import fold, pieces, skeleton
from fleet.search.tokens import (
    LONGEST_TOKEN,
    SHORTEST_CODE,
    SHORTEST_SUFFIX,
    SUFFIX,
    backwards,
    is_correctable,
    telephone_digits,
)

LONGEST_TEXT = 200
MOST_GROUPS = 12
SHORTEST_JOINED = 4


@dataclass(frozen=True, slots=True)
class Range:
    """Tokens that begin with ``start``, or are it exactly, or are longer.

    ``ends`` is what a code must end with besides. A token of what was so once (see ``tokens``) is both exactly it and
    longer.
    """

    start: str
    exact: bool = False
    ends: str = ""
    longer: bool = False


@dataclass(frozen=True, slots=True)
class Term:
    """One thing that a site must have: any of the ranges holds a token of it."""

    text: str
    ranges: tuple[Range, ...]
    word: str = ""
    """The folded word, where the term is one that may be mistyped."""

    @property
    def as_whole_word(self) -> Range | None:
        """The word alone where it is one of letters: so many sites may have it that counting them takes long."""
        return replace(self.ranges[0], exact=True) if self.text.isalpha() else None

    @property
    def whole(self) -> tuple[str, ...]:
        """The tokens of the very word or code, or of each word that it may be instead of a mistyped one."""
        ways = self.ranges if all(each.exact for each in self.ranges) else self.ranges[:1]
        return tuple(each.start for each in ways)

    @property
    def parts(self) -> tuple[Range, ...]:
        """Its ranges, the first one in two: the very word or code, and what is longer."""
        first = self.ranges[0]
        return (replace(first, exact=True), replace(first, exact=first.exact, longer=True), *self.ranges[1:])

    @property
    def drives(self) -> bool:
        """Whether it is long enough to be looked up first."""
        return len(self.text) >= SHORTEST_CODE


def words_of(text: str) -> list[Term]:
    """Each word of ``text`` by itself: the plainest of its meanings."""
    return list(dict.fromkeys(_word(piece) for group in _groups(text) for piece in pieces(group)))


def readings_of(text: str) -> list[list[Term]]:
    """The meanings of ``text``, in the order in which they are tried; none for a text without letters and digits."""
    groups = _groups(text)
    whole, grouped = _whole(groups), _grouped(groups)
    first = [grouped, whole] if any(map(_is_plain_word, groups)) else [whole, grouped]
    candidates = [*first, words_of(text)]
    readings: list[list[Term]] = []
    for terms in candidates:
        distinct = list(dict.fromkeys(terms))
        if distinct and distinct not in readings:
            readings.append(distinct)
    return readings


def exact_term(words: list[str]) -> Term:
    """Any of these words, each as a whole: what a mistyped word is replaced with."""
    return Term(words[0], tuple(Range("w" + word, exact=True) for word in words))


def code_term(text: str) -> Term:
    """A code read from a label: as a whole."""
    return Term(skeleton(text), (Range("s" + skeleton(text)[: LONGEST_TOKEN - 1], exact=True),))


def _whole(groups: list[str]) -> list[Term]:
    """A code or number written with spaces."""
    text = " ".join(groups)
    bones = skeleton(text)
    if len(groups) < 2 or len(bones) < SHORTEST_JOINED or not any(map(str.isdigit, text)):
        return []
    return [Term(bones, _code_ranges(text))]


def _grouped(groups: list[str]) -> list[Term]:
    """Each group a term of its own; neighbours without letters are one number."""
    terms: list[Term] = []
    for numeric, run in groupby(groups, key=_is_numeric):
        together = list(run)
        if numeric and len(together) > 1:
            terms.append(Term(skeleton(" ".join(together)), _code_ranges(" ".join(together))))
        else:
            terms += map(_group, together)
    return terms


def _group(group: str) -> Term:
    parts = pieces(group)
    if len(parts) == 1 and not group.startswith(("+", "0")):
        return _word(parts[0])
    whole = "".join(parts)
    return Term(whole, (*(_word_ranges(whole) if whole else ()), *_code_ranges(group)))


def _word(piece: str) -> Term:
    ranges = [*_word_ranges(piece)]
    if len(piece) >= SHORTEST_CODE:
        ranges += _code_ranges(piece)
    return Term(piece, tuple(ranges), piece if is_correctable(piece) else "")


def _word_ranges(word: str) -> tuple[Range, ...]:
    return (Range(("w" + word)[:LONGEST_TOKEN]),)


def _code_ranges(text: str) -> tuple[Range, ...]:
    bones = skeleton(text)
    starts = [bones]
    if bones.isdigit() and text.lstrip().startswith(("+", "0")):
        starts += [digits for digits in telephone_digits(text) if len(digits) >= SHORTEST_CODE]
    ranges = [Range(("s" + start)[:LONGEST_TOKEN]) for start in dict.fromkeys(starts)]
    if len(bones) >= SHORTEST_SUFFIX:
        ranges.append(Range("r" + backwards(bones), ends=bones if len(bones) > SUFFIX else ""))
    return tuple(ranges)


def _groups(text: str) -> list[str]:
    return [group for group in text[:LONGEST_TEXT].split() if pieces(group)][:MOST_GROUPS]


def is_written_as_code(text: str) -> bool:
    """Whether a group of ``text`` is punctuated as codes and e-mail addresses are: its pieces alone mean little."""
    return any("@" in group or (any(map(str.isdigit, group)) and len(pieces(group)) > 1) for group in text.split())


def _is_plain_word(group: str) -> bool:
    return len(group) >= SHORTEST_CODE and group.isalpha()


def _is_numeric(group: str) -> bool:
    folded = "".join(pieces(group))
    return folded.isdigit() and fold(group) == group
