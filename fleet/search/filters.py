"""What narrows a list of sites beside the text: combinable, and shareable as a URL's query."""

from __future__ import annotations

from dataclasses import dataclass, fields
from datetime import date
from urllib.parse import urlencode
from uuid import UUID

from django.http import QueryDict

from fleet.moments import read_day

LONGEST_VALUE = 120
MOST_VALUES = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteFilters:
    """Values of one field are alternatives; the fields narrow each other. Empty fields narrow nothing.

    ``kind``, ``maker``, ``model`` and ``firmware_below`` speak of one and the same device standing at the site.
    """

    stage: tuple[str, ...] = ()
    invitation: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    """Purposes without the owner's permission."""
    kind: tuple[str, ...] = ()
    maker: tuple[str, ...] = ()
    """Names of makers, letter case aside."""
    model: tuple[str, ...] = ()
    """Public ids of device models."""
    firmware_below: str = ""
    region: tuple[str, ...] = ()
    installed_from: date | None = None
    installed_until: date | None = None
    """Inclusive."""
    assigned: tuple[str, ...] = ()
    """Public ids of members."""
    tag: tuple[str, ...] = ()
    next_move: tuple[str, ...] = ()

    @classmethod
    def from_query(cls, query: QueryDict) -> SiteFilters:
        """The filters of a URL's query; other keys, and values that cannot be meant, are ignored."""
        values: dict[str, object] = {}
        for entry in fields(cls):
            given = [value.strip()[:LONGEST_VALUE] for value in query.getlist(entry.name)[:MOST_VALUES]]
            given = [value for value in given if value and "\x00" not in value and _can_be_meant(entry.name, value)]
            if given:
                values[entry.name] = _typed(entry.name, given)
        return cls(**values)  # type: ignore[arg-type]  # each value has its field's type by _typed

    def to_query(self) -> str:
        """The query of a URL that gives the same filters, without a question mark."""
        pairs: list[tuple[str, str]] = []
        for entry in fields(self):
            value = getattr(self, entry.name)
            if isinstance(value, tuple):
                pairs += [(entry.name, each) for each in value]
            elif value:
                pairs.append((entry.name, str(value)))
        return urlencode(pairs)

    def __bool__(self) -> bool:
        return any(getattr(self, entry.name) for entry in fields(self))


def _can_be_meant(name: str, value: str) -> bool:
    if name not in {"model", "assigned"}:
        return True
    try:
        return bool(UUID(value))
    except ValueError:
        return False


NO_FILTERS = SiteFilters()


def _typed(name: str, given: list[str]) -> object:
    if name in {"installed_from", "installed_until"}:
        return read_day(given[0])
    if name == "firmware_below":
        return given[0]
    return tuple(dict.fromkeys(given))
