"""What a lookup finds. Pure: no database."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from fleet.search.terms import Term

COUNTED_UP_TO = 1000


class Hit(NamedTuple):
    """A site that was found: how well (the smaller, the better), and whether only by what was so once."""

    site_id: int
    tier: int
    past: bool


@dataclass(frozen=True, slots=True)
class Hits:
    """What a lookup found, best first; ``total`` is exact unless ``capped``."""

    found: list[Hit]
    total: int
    capped: bool = False
    missing: tuple[Term, ...] = ()
    """The terms that nothing was found for, where that is known."""


def all_of_them(found: Sequence[Hit]) -> Hits:
    """Hits of which there are no more than were found."""
    return Hits(list(found), min(len(found), COUNTED_UP_TO), capped=len(found) > COUNTED_UP_TO)


def the_first(found: Sequence[Hit]) -> Hits:
    """Hits of which there may be more."""
    return Hits(list(found), min(len(found), COUNTED_UP_TO), capped=True)
