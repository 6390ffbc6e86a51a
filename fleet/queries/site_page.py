"""What a site's page shows: what stands there, what is still to do, who is expected, files."""

from dataclasses import dataclass
from typing import Any

from django.db.models import Case, IntegerField, OuterRef, QuerySet, Subquery, When

from fleet.models import (
    Assignment,
    HandoverCheck,
    InstalledFirmware,
    Kind,
    Member,
    Placement,
    Scan,
    Site,
    SiteReference,
    StoredFile,
    Tag,
)
from fleet.queries.plans import Plan, plan_of
from fleet.queries.standing_groups import DeviceGroup, grouped

UNDONE = (HandoverCheck.Finding.OPEN, HandoverCheck.Finding.PROBLEM)
_KINDS_IN_ORDER = list(Kind.values)


@dataclass(frozen=True, slots=True)
class SiteRecord:
    """Everything of the register's own that a site's page shows at once."""

    standing: list[Placement]
    """Open placements, inverters first; each carries ``firmware`` (the version seen last), ``firmware_at`` and
    ``scanned_at`` as attributes."""
    several_inverters: bool
    plan: Plan
    checks: list[HandoverCheck]
    assignments: list[Assignment]
    references: list[SiteReference]
    tags: list[Tag]
    files: list[StoredFile]

    @property
    def groups(self) -> list[DeviceGroup]:
        """What stands there by kind."""
        return grouped(self.standing)

    @property
    def undone_checks(self) -> list[HandoverCheck]:
        """The checks that still need somebody, in their order."""
        return [check for check in self.checks if check.finding in UNDONE]

    @property
    def settled_checks(self) -> list[HandoverCheck]:
        """The checks that are done or waived."""
        return [check for check in self.checks if check.finding not in UNDONE]

    @property
    def open_checks(self) -> int:
        """Checks that still need somebody."""
        return len(self.undone_checks)

    @property
    def leads(self) -> Placement | None:
        """The inverter that leads the others, where one does."""
        return next((placement for placement in self.standing if placement.bus_role == "leads"), None)


def site_record(site: Site) -> SiteRecord:
    """The record of a site that the caller has found to be visible."""
    standing = list(_standing(site))
    return SiteRecord(
        standing=standing,
        several_inverters=sum(placement.device.kind == Kind.INVERTER for placement in standing) > 1,
        plan=plan_of(site, standing),
        checks=list(HandoverCheck.objects.filter(site=site).select_related("found_by__user").order_by("pk")),
        assignments=list(Assignment.objects.filter(site=site).select_related("member__user").order_by("pk")),
        references=list(SiteReference.objects.filter(site=site).order_by("kind", "pk")),
        tags=list(site.tags.order_by("name")),
        files=list(StoredFile.objects.filter(site=site).select_related("stored_by__user").order_by("-pk")[:50]),
    )


def assignable_members(member: Member) -> QuerySet[Member]:
    """Members of the company who can be expected at a site, by name."""
    return (
        Member.objects.filter(company_id=member.company_id, active=True).select_related("user").order_by("user__name")
    )


def _standing(site: Site) -> QuerySet[Placement, Any]:
    latest = InstalledFirmware.objects.filter(device=OuterRef("device")).order_by("-seen_at", "-pk")
    scans = Scan.objects.filter(device=OuterRef("device"), site=site).order_by("-scanned_at")
    kind_order = Case(
        *(When(device__kind=kind, then=place) for place, kind in enumerate(_KINDS_IN_ORDER)),
        default=len(_KINDS_IN_ORDER),
        output_field=IntegerField(),
    )
    return (
        Placement.objects.filter(site=site, until__isnull=True)
        .select_related("device__model__maker")
        .annotate(
            firmware=Subquery(latest.values("version")[:1]),
            firmware_at=Subquery(latest.values("seen_at")[:1]),
            scanned_at=Subquery(scans.values("scanned_at")[:1]),
            kind_order=kind_order,
        )
        .order_by("kind_order", "since", "pk")
    )
