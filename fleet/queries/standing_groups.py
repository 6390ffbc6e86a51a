"""What stands at a site, group by group: one row a device, optimisers as the strings they hang on."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby

from fleet.models import Kind, Placement

FOLDED_FROM = 4
STRING_AND_PLACE = re.compile(r"(?:string\s*)?([A-Za-z]{1,3}|\d{1,2}(?=[\s.,/:-]))[\s.,/:-]*(\d{1,3})", re.IGNORECASE)
"""How people write where an optimiser hangs: ``A3``, ``string A, 3``, ``B-12``, ``1.4``; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Cell:
    """One optimiser on its string: the written place, and the last four of its serial."""

    place: str
    last_four: str
    placement: Placement


@dataclass(frozen=True, slots=True)
class StringRow:
    """The optimisers of one string in their order; ``name`` is empty for those whose place is not told."""

    name: str
    cells: list[Cell]


@dataclass(frozen=True, slots=True)
class DeviceGroup:
    """The devices of one kind."""

    kind: Kind
    placements: list[Placement]

    @property
    def number(self) -> int:
        """How many they are."""
        return len(self.placements)

    @property
    def folded(self) -> bool:
        """Whether the page shows them as one line that opens."""
        return self.kind == Kind.OPTIMISER and self.number >= FOLDED_FROM

    @property
    def models(self) -> list[str]:
        """The models that they are, each once."""
        found = (placement.device.model for placement in self.placements)
        return list(dict.fromkeys(f"{model.maker.name} {model.name}" for model in found if model))

    @property
    def since(self) -> datetime:
        """When the first of them came."""
        return min(placement.since for placement in self.placements)

    @property
    def firmware(self) -> str:
        """The firmware that all of them run, empty where they differ or where it is not known of all."""
        versions = {getattr(placement, "firmware", None) or "" for placement in self.placements}
        return versions.pop() if len(versions) == 1 else ""

    @property
    def strings(self) -> list[StringRow]:
        """The strings by name, and last those whose place is not told or is told otherwise."""
        placed = sorted(((_place_of(each), each) for each in self.placements), key=lambda pair: (*pair[0], pair[1].pk))
        return [
            StringRow(name, [_cell(name, number, each) for (_last, _name, number), each in members])
            for (_last, name), members in groupby(placed, key=lambda pair: pair[0][:2])
        ]

    @property
    def named_strings(self) -> int:
        """How many strings are told of."""
        return sum(bool(row.name) for row in self.strings)


def grouped(standing: Iterable[Placement]) -> list[DeviceGroup]:
    """Placements in the order of their kinds as groups."""
    return [DeviceGroup(Kind(kind), list(each)) for kind, each in groupby(standing, key=lambda one: one.device.kind)]


def _place_of(placement: Placement) -> tuple[bool, str, int]:
    """Whether it comes last, its string and its number on it."""
    found = STRING_AND_PLACE.fullmatch(placement.position.strip())
    return (False, found[1].upper(), int(found[2])) if found else (True, "", 0)


def _cell(string: str, number: int, placement: Placement) -> Cell:
    place = f"{string}{number}" if string.isalpha() else f"{string}.{number}" if string else placement.position
    return Cell(place, placement.device.serial[-4:], placement)
