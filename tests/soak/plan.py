"""What a soak does, and what it came to."""

import json
from dataclasses import asdict, dataclass, field


@dataclass(frozen=True)
class Plan:
    """What a soak does. ``scale`` is PostgreSQL, Redis, a Celery worker of two processes and two beats; otherwise one
    embedded process on SQLite.
    """

    scale: bool
    invitations: int
    kills: int
    withdrawals: int
    redis_kills: int = 0
    database_restarts: int = 0
    seed: int = 1
    delay: float = 0.0
    longest: float = 1800.0

    @property
    def senders(self) -> int:
        """How many processes send at the same time."""
        return 2 if self.scale else 1

    @property
    def faults(self) -> int:
        """How many times something is ended at random."""
        return self.kills + self.redis_kills + self.database_restarts


@dataclass
class Found:
    """What a soak came to. ``lost``: neither arrived, nor ended, nor known to be unknown."""

    invitations: int = 0
    states: dict[str, int] = field(default_factory=dict)
    arrived: int = 0
    doubled: int = 0
    lost: int = 0
    sent_but_not_arrived: int = 0
    unknown: int = 0
    unknown_allowed: int = 0
    unanswered_on_purpose: int = 0
    withdrawn: int = 0
    left_after_withdrawal: int = 0
    kills: int = 0
    redis_kills: int = 0
    database_restarts: int = 0
    ended_by_themselves: int = 0
    stopped_in: float = 0.0
    unknown_by_clean_stop: int = 0
    seconds: float = 0.0

    def faults(self) -> list[str]:
        """What must not be; empty when all held."""
        said = []
        if self.doubled:
            said.append(f"{self.doubled} mails arrived twice")
        if self.lost:
            said.append(f"{self.lost} mails were lost")
        if self.sent_but_not_arrived:
            said.append(f"{self.sent_but_not_arrived} mails are sent but did not arrive")
        if self.unknown > self.unknown_allowed:
            said.append(f"{self.unknown} mails are unknown, {self.unknown_allowed} may be")
        if self.left_after_withdrawal:
            said.append(f"{self.left_after_withdrawal} mails were given leave after a withdrawal")
        if self.ended_by_themselves > self.redis_kills + self.database_restarts:
            said.append(f"senders ended by themselves {self.ended_by_themselves} times")
        if self.unknown_by_clean_stop:
            said.append(f"a clean stop left {self.unknown_by_clean_stop} mails unknown")
        return said

    def timed_faults(self) -> list[str]:
        """The same for what depends on how busy the machine is."""
        return [f"a clean stop took {self.stopped_in:.1f} s"] if self.stopped_in > 5 else []

    def as_json(self) -> str:
        """All figures, one line."""
        return json.dumps(asdict(self))
