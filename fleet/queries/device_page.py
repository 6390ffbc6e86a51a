"""What a device's page shows: where it stands and stood, its scans, its firmware."""

from dataclasses import dataclass
from uuid import UUID

from fleet.models import Device, InstalledFirmware, Member, Placement, Scan
from fleet.queries.visibility import visible_devices, visible_placements, visible_sites

MOST_SCANS = 50


@dataclass(frozen=True, slots=True)
class DeviceRecord:
    """A device's history, newest first, as far as the member may see the sites of it."""

    standing: Placement | None
    earlier: list[Placement]
    scans: list[Scan]
    firmware: list[InstalledFirmware]


def device_by_id(member: Member, public_id: UUID) -> Device | None:
    """The visible device with this public id."""
    return visible_devices(member).filter(public_id=public_id).select_related("model__maker").first()


def placement_by_id(member: Member, code: str, public_id: UUID) -> Placement | None:
    """The visible placement with this public id at the site with this code."""
    return (
        visible_placements(member)
        .filter(site__code=code, public_id=public_id)
        .select_related("site", "device__model__maker")
        .first()
    )


def device_record(member: Member, device: Device) -> DeviceRecord:
    """The history of a device that the caller has found to be visible."""
    placements = list(
        visible_placements(member)
        .filter(device=device)
        .select_related("site", "placed_by__user", "replaces__device", "replaced_by__device")
        .order_by("-since", "-pk")
    )
    scans = Scan.objects.filter(device=device, site__in=visible_sites(member))
    return DeviceRecord(
        standing=next((placement for placement in placements if placement.until is None), None),
        earlier=[placement for placement in placements if placement.until is not None],
        scans=list(scans.select_related("site", "member__user").order_by("-scanned_at")[:MOST_SCANS]),
        firmware=list(
            InstalledFirmware.objects.filter(device=device)
            .select_related("recorded_by__user")
            .order_by("-seen_at")[:50]
        ),
    )


def scan_by_id(member: Member, code: str, client_id: UUID) -> Scan | None:
    """The scan with this id at a visible site."""
    return (
        Scan.objects.filter(company_id=member.company_id, client_id=client_id, site__code=code)
        .filter(site__in=visible_sites(member))
        .select_related("site", "device__model__maker", "placement", "member__user", "doubt")
        .first()
    )
