"""Why a site was found: which of its texts, and which part of them. Pure: no database."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from fleet.search.fold import LOOK_ALIKES, folded_with_places
from fleet.search.results import Match
from fleet.search.terms import Range, Term
from fleet.search.words import Shape, Word

Span = tuple[int, int]


class Letters(NamedTuple):
    """The letters and digits of a text, folded: what they are, as they are and with look-alikes made equal, whence they
    came, and where pieces and groups begin.
    """

    text: str
    bones: str
    places: list[int]
    starts: frozenset[int]
    group_starts: frozenset[int]


def matches_of(words: Sequence[Word], terms: Sequence[Term]) -> tuple[list[Match], bool]:
    """The texts in which the terms stand, and whether one of them stands only in what was so once."""
    spans: dict[Word, set[Span]] = {}
    past_only = False
    read = [(word, _letters(word.text)) for word in words]
    for term in terms:
        looks = [_Look(each, each.start[0] == "w", _wanted(each)) for each in term.ranges]
        held = [(word, found) for word, letters in read if (found := _spans(word, letters, looks))]
        past_only = past_only or (bool(held) and all(word.past for word, _found in held))
        for word, found in held:
            spans.setdefault(word, set()).update(found)
    matches = [Match(word.field, word.text, _merged(found), word.past) for word, found in spans.items()]
    return sorted(matches, key=lambda match: match.past), past_only


class _Look(NamedTuple):
    """One range, whether it is of words, and the letters that it looks for."""

    range: Range
    of_words: bool
    wanted: str


def _wanted(each: Range) -> str:
    return (each.ends or each.start[1:][::-1]) if each.start[0] == "r" else each.start[1:]


def _spans(word: Word, letters: Letters, looks: Sequence[_Look]) -> list[Span]:
    found: list[Span] = []
    for each, of_words, wanted in looks:
        if wanted in (letters.text if of_words else letters.bones):  # seldom: most texts are passed over here
            found += _FIND[each.start[0]](word, letters, each, wanted)
    return found


def _find_word(word: Word, letters: Letters, each: Range, wanted: str) -> list[Span]:
    if word.shape not in (Shape.WORDS, Shape.NUMBERED):
        return []
    found = []
    at = letters.text.find(wanted)
    while at >= 0:
        end = at + len(wanted)
        inner = {start for start in letters.starts if at < start < end}
        begins = at in letters.starts if not inner else at in letters.group_starts and not inner & letters.group_starts
        if (begins or _is_after_number(letters, at, inner)) and (not each.exact or _is_end(letters, end)):
            found.append(_span(letters, at, end))
        at = letters.text.find(wanted, at + 1)
    return found


def _is_after_number(letters: Letters, at: int, inner: set[int]) -> bool:
    """Inside one piece, where letters follow digits or the other way round (``12A``, ``12 A``)."""
    mixed = at > 0 and letters.text[at].isdigit() != letters.text[at - 1].isdigit() and not inner
    apart = at in letters.starts and len(inner) == 1 and all(letters.text[start - 1].isdigit() for start in inner)
    return mixed or apart


def _is_end(letters: Letters, end: int) -> bool:
    return end == len(letters.text) or end in letters.starts


def _find_code(word: Word, letters: Letters, each: Range, wanted: str) -> list[Span]:
    bones = letters.bones
    if word.shape is Shape.SERIAL:
        fits = bones == wanted if each.exact else bones.startswith(wanted)
        return [_span(letters, 0, len(wanted))] if fits else []
    if word.shape is Shape.PHONE:
        at = bones.find(wanted)
        return [_span(letters, at, at + len(wanted))] if at >= 0 else []
    if word.shape in (Shape.EMAIL, Shape.NUMBERED):
        return [_span(letters, at, at + len(wanted)) for at in sorted(letters.starts) if bones.startswith(wanted, at)][
            :1
        ]
    return []


def _find_ending(word: Word, letters: Letters, each: Range, wanted: str) -> list[Span]:
    if word.shape not in (Shape.SERIAL, Shape.PHONE) or not letters.bones.endswith(wanted):
        return []
    return [_span(letters, len(letters.bones) - len(wanted), len(letters.bones))]


_FIND = {"w": _find_word, "s": _find_code, "r": _find_ending}


def _span(letters: Letters, start: int, end: int) -> Span:
    return letters.places[start], letters.places[end - 1] + 1


def _merged(spans: set[Span]) -> tuple[Span, ...]:
    merged: list[Span] = []
    for start, end in sorted(spans):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(end, merged[-1][1]))
        else:
            merged.append((start, end))
    return tuple(merged)


@lru_cache(maxsize=2048)
def _letters(text: str) -> Letters:
    folded, places = folded_with_places(text)
    kept = [(character, place) for character, place in zip(folded, places, strict=True) if character.isalnum()]
    starts, group_starts = set(), set()
    before = -1
    at = 0
    gap: str | None = ""
    for character, place in zip(folded, places, strict=True):
        if not character.isalnum():
            gap = (gap or "") + character
            continue
        if gap is not None:
            starts.add(at)
            if before < 0 or any(map(str.isspace, gap)):
                group_starts.add(at)
        gap, before, at = None, place, at + 1
    together = "".join(character for character, _place in kept)
    places = [place for _character, place in kept]
    return Letters(together, together.translate(LOOK_ALIKES), places, frozenset(starts), frozenset(group_starts))


def written_forms(match: Match, words: set[str]) -> list[str]:
    """The marked parts of a match that are one of the folded ``words``, as they are written there."""
    return [part for part, marked in match.parts if marked and _letters(part).text in words]
