"""The years of a site as lines: a day's like moments are one line that unfolds."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

    from fleet.queries.site_years import Moment

FOLDED_FROM = 3


@dataclass(frozen=True, slots=True)
class Line:
    """One line: a moment of its own, or several like ones of one day, newest first."""

    moments: "list[Moment]"

    @property
    def folded(self) -> bool:
        """Whether it stands for several."""
        return len(self.moments) > 1

    @property
    def moment(self) -> "Moment":
        """The newest."""
        return self.moments[0]

    @property
    def at(self) -> datetime:
        """When the newest was."""
        return self.moments[0].at

    @property
    def began(self) -> datetime:
        """When the oldest was."""
        return self.moments[-1].at

    @property
    def number(self) -> int:
        """How many there are."""
        return len(self.moments)

    @property
    def what(self) -> "StrOrPromise":
        """What they have in common."""
        return self.moments[0].kind

    @property
    def who(self) -> str:
        """Everybody who did one of them, each once."""
        return ", ".join(dict.fromkeys(moment.who for moment in self.moments if moment.who))


def lines_of(moments: "Iterable[Moment]") -> list[Line]:
    """Moments (newest first) as lines: where a day has several of a kind they stand where the newest of them does."""
    alike: dict[tuple[date, str], list[Moment]] = {}
    order: list[tuple[date, str]] = []
    for moment in moments:
        key = (moment.at.date(), str(moment.kind))
        if key not in alike:
            order.append(key)
        alike.setdefault(key, []).append(moment)
    lines: list[Line] = []
    for key in order:
        found = alike[key]
        lines += [Line(found)] if len(found) >= FOLDED_FROM and key[1] else [Line([each]) for each in found]
    return sorted(lines, key=_newest, reverse=True)


def _newest(line: Line) -> Any:
    return line.at
