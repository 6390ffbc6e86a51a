"""What a run of entries amounts to for one person, site and purpose."""

from dataclasses import dataclass
from datetime import datetime, timedelta

WEAK = frozenset({"staff_statement", "co_owner", "letter"})
OWNERS_OWN = frozenset({"owner_online", "letter"})
"""What only the owner, or whoever passes for them, can say: what staff report does not undo such a no."""
GRANTING = frozenset({"given", "renewed"})
SAYS_NO = frozenset({"refused", "withdrawn", "revoked"})
"""What a person said against it; that a time is over, or that an answer no longer counts, is nobody's no."""
OPEN_TO_ASK = frozenset({"requested", "expired"})
"""States that say neither yes nor no: nobody answered yet, or the time of a yes is over."""

LASTS_LONG = timedelta(days=80)
WARN_BEFORE, WARN_SHORT_BEFORE = timedelta(days=30), timedelta(days=7)


@dataclass(frozen=True)
class Fact:
    """The part of an entry that decides: its state, what it rests on, and when it was said."""

    entry: str
    state: str
    evidence: str
    at: datetime

    @property
    def strong(self) -> bool:
        """Whether it rests on the owner's own act, a signature or a paper with a reference. A letter's code is none."""
        return self.evidence not in WEAK

    @property
    def grants(self) -> bool:
        """Whether it says yes."""
        return self.state in GRANTING


def next_standing(standing: Fact | None, entry: Fact) -> Fact:
    """The standing after ``entry``.

    An entry that arrives late never overturns a later one, but for an older no that meets a later yes: the more careful
    answer stands until a person settles it by asking again. What staff report (weak) never replaces a strong standing:
    a reported yes cannot undo the owner's own no, and adds nothing to the owner's own yes. A reported no does count,
    since it costs the owner nothing. Being asked changes nothing that was already answered. A yes whose time is over is
    no no: it is asked again, and a reported yes stands as one.
    """
    if standing is None:
        return entry
    if entry.at < standing.at:
        return entry if entry.state in SAYS_NO and standing.grants else standing
    if entry.state == "requested":
        return standing
    if entry.grants and not entry.strong and standing.strong and standing.state not in OPEN_TO_ASK:
        return standing
    return entry


def warned_from(given_at: datetime, ends_at: datetime) -> datetime:
    """From when on people are told that a yes runs out: 30 days before; 7 where it lasts less than 80 days at all."""
    return ends_at - (WARN_BEFORE if ends_at - given_at >= LASTS_LONG else WARN_SHORT_BEFORE)


def permits(purpose: str, standing: Fact | None, *, invitation: bool = False) -> bool:
    """Whether ``standing`` permits ``purpose``; a weak yes permits only the invitation, by way of ``contact``."""
    if standing is None or not standing.grants:
        return False
    return standing.strong or (purpose == "contact" and invitation)
