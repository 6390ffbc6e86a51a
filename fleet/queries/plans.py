"""What is planned at a site, kind by kind, beside what stands there."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from fleet.models import ExpectedDevice, Kind, NoneExpected, Placement, Site


@dataclass(frozen=True, slots=True)
class PlanLine:
    """One kind: ``expected`` devices (0: none, said so; None: nobody said) and how many stand there."""

    kind: Kind
    expected: int | None
    standing: int

    @property
    def missing(self) -> int:
        """How many are still to come."""
        return max((self.expected or 0) - self.standing, 0)

    @property
    def not_planned(self) -> int:
        """How many stand there besides what somebody said; 0 where nobody said."""
        return 0 if self.expected is None else max(self.standing - self.expected, 0)


@dataclass(frozen=True, slots=True)
class Plan:
    """What somebody said will stand at a site."""

    lines: list[PlanLine]
    """Kinds that somebody spoke of, or of which something stands there."""
    units: list[ExpectedDevice]
    """Units of which a serial, a model or a place is planned, with ``model`` and its maker loaded."""

    @property
    def is_stated(self) -> bool:
        """Whether anybody said anything."""
        return any(line.expected is not None for line in self.lines)


def stated_counts(site: Site) -> dict[str, int | None]:
    """How many of each kind are expected at the site: 0 where somebody said none, None where nobody said."""
    expected = ExpectedDevice.objects.filter(site=site).values_list("kind", flat=True)
    return _counts(expected, NoneExpected.objects.filter(site=site).values_list("kind", flat=True))


def plan_of(site: Site, standing: Iterable[Placement] | None = None) -> Plan:
    """The plan of a site that the caller may see; ``standing`` are its open placements where they are loaded."""
    rows = list(ExpectedDevice.objects.filter(site=site).select_related("model__maker").order_by("pk"))
    if standing is None:
        standing = Placement.objects.filter(site=site, until__isnull=True).select_related("device")
    there = Counter(placement.device.kind for placement in standing)
    none = NoneExpected.objects.filter(site=site).values_list("kind", flat=True)
    counts = _counts((row.kind for row in rows), none)
    lines = [PlanLine(Kind(kind), counts[kind], there[kind]) for kind in Kind.values]
    return Plan(
        lines=[line for line in lines if line.expected is not None or line.standing],
        units=[row for row in rows if row.serial or row.model_id or row.position],
    )


def _counts(expected: Iterable[str], none: Iterable[str]) -> dict[str, int | None]:
    found, said_none = Counter(expected), set(none)
    return {kind: found[kind] or (0 if kind in said_none else None) for kind in Kind.values}
