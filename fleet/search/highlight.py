"""Why a site was found: which of its texts, and which part of them. Pure: no database."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from fleet.search.fold import LOOK_ALIKES, folded_with_places
from fleet.search.results import Match
from fleet.search.terms import Range, Term
from fleet.search.tokens import SUFFIX
from fleet.search.words import Shape, Word

Span = tuple[int, int]


class Letters(NamedTuple):
    """The letters and digits of a text, folded: what they are, whence they came, and where pieces and groups begin."""

    text: str
    places: list[int]
    starts: frozenset[int]
    group_starts: frozenset[int]


def matches_of(words: Sequence[Word], terms: Sequence[Term]) -> tuple[list[Match], bool]:
    """The texts in which the terms stand, and whether one of them stands only in what was so once."""
    spans: dict[Word, set[Span]] = {}
    past_only = False
    for term in terms:
        held = [(word, found) for word in words if (found := _spans(word, term))]
        past_only = past_only or (bool(held) and all(word.past for word, _found in held))
        for word, found in held:
            spans.setdefault(word, set()).update(found)
    matches = [Match(word.field, word.text, _merged(found), word.past) for word, found in spans.items()]
    return sorted(matches, key=lambda match: match.past), past_only


def _spans(word: Word, term: Term) -> list[Span]:
    letters = _letters(word.text)
    found: list[Span] = []
    for each in term.ranges:
        found += _FIND[each.start[0]](word, letters, each)
    return found


def _find_word(word: Word, letters: Letters, each: Range) -> list[Span]:
    if word.shape not in (Shape.WORDS, Shape.NUMBERED):
        return []
    wanted = each.start[1:]
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


def _find_code(word: Word, letters: Letters, each: Range) -> list[Span]:
    bones, wanted = letters.text.translate(LOOK_ALIKES), each.start[1:]
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


def _find_ending(word: Word, letters: Letters, each: Range) -> list[Span]:
    if word.shape not in (Shape.SERIAL, Shape.PHONE):
        return []
    wanted = each.ends or each.start[1:][::-1]
    bones = letters.text.translate(LOOK_ALIKES)
    tail = wanted if bones.endswith(wanted) else ""
    if len(bones) < SUFFIX and not tail:
        return []
    return [_span(letters, len(bones) - len(tail), len(bones))] if tail else []


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
    return Letters("".join(c for c, _ in kept), [p for _, p in kept], frozenset(starts), frozenset(group_starts))


def written_forms(match: Match, words: set[str]) -> list[str]:
    """The marked parts of a match that are one of the folded ``words``, as they are written there."""
    return [part for part, marked in match.parts if marked and _letters(part).text in words]
