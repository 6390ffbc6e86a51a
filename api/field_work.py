"""The day's work that the field page keeps for its member: assigned sites with what is expected, and wordings."""

from collections import defaultdict
from typing import Any

from django.db.models import Prefetch, QuerySet
from django.utils import timezone

from fleet.models import Assignment, ExpectedDevice, HandoverCheck, Member, Placement, Site, Stage
from fleet.queries.visibility import sees_only_own_sites, visible_sites
from onboarding.models import Ownership, Purpose
from onboarding.queries.consents import standings
from onboarding.queries.wordings import wordings_of

MOST_SITES = 60
MOST_WITHOUT_ASSIGNMENT = 20
KEPT_HOURS = 72


def work_of(member: Member) -> dict[str, Any]:
    """Sites with expected and standing devices, checks, owners and their permissions, and the wordings to read out."""
    sites = list(_sites(member))
    permitted = _permissions([site.pk for site in sites])
    return {
        "made_at": timezone.now().isoformat(),
        "kept_hours": KEPT_HOURS,
        "sites": [_site(site, permitted) for site in sites],
        "wordings": _wordings(member),
    }


def _sites(member: Member) -> QuerySet[Site]:
    today = timezone.localdate()
    assigned = Assignment.objects.filter(member=member).exclude(until__lt=today).values("site")
    sites = visible_sites(member).exclude(stage=Stage.RETIRED)
    mine = sites.filter(pk__in=assigned)
    if not sees_only_own_sites(member) and not mine.exists():
        newest = sites.order_by("-updated_at").values_list("pk", flat=True)[:MOST_WITHOUT_ASSIGNMENT]
        mine = sites.filter(pk__in=list(newest))
    return mine.order_by("-updated_at").prefetch_related(
        Prefetch("expected_devices", ExpectedDevice.objects.select_related("model__maker").order_by("pk")),
        Prefetch("placements", _standing()),
        Prefetch("checks", HandoverCheck.objects.order_by("pk")),
        Prefetch("ownerships", Ownership.objects.filter(until__isnull=True).select_related("owner").order_by("pk")),
    )[:MOST_SITES]


def _standing() -> QuerySet[Placement]:
    return Placement.objects.filter(until__isnull=True).select_related("device__model__maker").order_by("pk")


def _site(site: Site, permitted: dict[tuple[int, int], dict[str, str]]) -> dict[str, Any]:
    return {
        "code": site.written_code,
        "name": site.name,
        "address": site.address_line,
        "stage": site.stage,
        "note": site.note,
        "expected": [
            {"kind": row.kind, "model": row.model.name if row.model else "", "serial": row.serial,
             "position": row.position, "done": row.fulfilled_by_id is not None}
            for row in site.expected_devices.all()
        ],
        "standing": [
            {"serial": row.device.serial, "kind": row.device.kind,
             "model": row.device.model.name if row.device.model else ""}
            for row in site.placements.all()
        ],
        "checks": [{"title": row.title, "finding": row.finding, "note": row.note} for row in site.checks.all()],
        "owners": [
            {"id": str(row.owner.public_id), "name": row.owner.name, "language": row.owner.language,
             "permissions": permitted.get((site.pk, row.owner_id), {})}
            for row in site.ownerships.all()
        ],
    }  # fmt: skip


def _permissions(site_ids: list[int]) -> dict[tuple[int, int], dict[str, str]]:
    found: dict[tuple[int, int], dict[str, str]] = defaultdict(dict)
    for row in standings(site_ids):
        found[row.site_id, row.owner_id][row.purpose] = row.state
    return found


def _wordings(member: Member) -> list[dict[str, Any]]:
    """The newest version of each purpose and language."""
    newest: dict[tuple[str, str], dict[str, Any]] = {}
    for wording in wordings_of(member):
        newest.setdefault(
            (wording.purpose, wording.language),
            {
                "purpose": wording.purpose,
                "title": str(Purpose(wording.purpose).label),
                "language": wording.language,
                "version": wording.version,
                "text": wording.text,
            },
        )
    return list(newest.values())
