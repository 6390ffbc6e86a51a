"""Whether a document holds terms. Pure: asked of the few documents that the token table leaves."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.search.terms import Range, Term
from fleet.search.tokens import PAST


@dataclass(frozen=True, slots=True)
class Held:
    """How a document holds all terms: how many as whole words or codes, and whether one only by what was so once."""

    whole: int
    past: bool


def held(terms: Sequence[Term], tokens: str, past_tokens: str) -> Held | None:
    """How a document with these tokens holds ``terms``; None where it lacks one."""
    past = False
    for term in terms:
        if not _any(term.ranges, tokens, "\n"):
            if not past_tokens or not _any(term.ranges, past_tokens, f"{PAST}\n"):
                return None
            past = True
    return Held(sum(_as_a_whole(term, tokens) for term in terms), past)


def _any(ranges: Sequence[Range], tokens: str, end: str) -> bool:
    """``tokens`` stand between line feeds; ``end`` is how each of them ends."""
    for each in ranges:
        if f"\n{each.start}{end if each.exact else ''}" in tokens and (not each.ends or f"{each.ends}{end}" in tokens):
            return True
    return False


def _as_a_whole(term: Term, tokens: str) -> bool:
    return any(f"\n{each.start}\n" in tokens for each in term.ranges if not each.start.startswith("r"))
