"""What a search answers."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal

from fleet.search.hits import COUNTED_UP_TO
from fleet.search.words import Field


@dataclass(frozen=True, slots=True)
class Match:
    """A text of the site in which something was found; ``spans`` are (start, end) places in ``text`` to mark."""

    field: str
    """A value of :class:`fleet.search.words.Field`."""
    text: str
    spans: tuple[tuple[int, int], ...]
    past: bool = False

    @property
    def field_label(self) -> str:
        """The field in the reader's language."""
        return str(Field(self.field).label)

    @property
    def parts(self) -> list[tuple[str, bool]]:
        """``text`` cut into (piece, whether it is marked), ready to be shown one after the other."""
        cut, at = [], 0
        for start, end in self.spans:
            cut += [(self.text[at:start], False), (self.text[start:end], True)]
            at = end
        return [(piece, marked) for piece, marked in [*cut, (self.text[at:], False)] if piece]


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteRow:
    """One site in a list. ``past``: it was found only by what stood there or who owned it once."""

    site_id: int
    code: str
    """Eight symbols, without the dash."""
    name: str
    address_line: str
    town: str
    stage: str
    owner_names: str
    invitation_state: str
    missing_permissions: str
    """Values of the purposes that are missing, a space between them."""
    device_count: int
    next_move: str
    street_line: str = ""
    postcode: str = ""
    kwp: Decimal | None = None
    storage_kwh: Decimal | None = None
    stage_since: datetime | None = None
    matched: list[Match] = field(default_factory=list)
    past: bool = False

    @property
    def written_code(self) -> str:
        """The site code as people write it: ``ABCD-EFGH``."""
        return f"{self.code[:4]}-{self.code[4:]}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteResults:
    """One page of sites. ``total`` is exact unless ``total_capped``: then so many were found, and there may be more."""

    rows: list[SiteRow]
    total: int
    total_capped: bool
    further: bool = False
    """Whether another page follows."""
    corrected_to: str = ""
    """The words that were searched instead of mistyped ones, or empty."""
    read_as: str = ""
    """The serial number or site code that a pasted label was read as, or empty."""

    @property
    def surely_more(self) -> bool:
        """Whether there are more than were counted, not only perhaps."""
        return self.total_capped and self.total >= COUNTED_UP_TO
