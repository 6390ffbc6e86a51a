"""Finding devices: by identity, by what a typed serial may mean, and where they stand."""

from uuid import UUID

from django.db.models import Q, QuerySet

from fleet.labels.nearmiss import keys_within_one_edit, near_misses
from fleet.labels.reading import SERIAL_WITHIN_PART, Identity, Reading
from fleet.models import Company, Device, Member, Placement, Scan
from fleet.queries.visibility import sees_only_own_sites, visible_sites

MOST_CANDIDATES = 8
MOST_COMPARED = 200
LONGEST_TYPED_SERIAL = 64


def units_with_identity(company: Company, identity: Identity) -> QuerySet[Device]:
    """The company's units with exactly this identity: one, but where a person said that several bear it."""
    return Device.objects.filter(
        company=company, issuer_scheme=identity.scheme, issuer=identity.issuer, serial=identity.serial,
        numbered_within=identity.within,
    ).select_related("model__maker").order_by("twin")  # fmt: skip


def unit_of_reading(company: Company, reading: Reading) -> Device | None:
    """The one unit that a reading means beyond doubt, or None."""
    if reading.identity is None:
        return None
    units = [unit for unit in units_with_identity(company, reading.identity) if not contradictions(unit, reading)]
    return units[0] if len(units) == 1 else None


def in_doubt(scan: Scan) -> bool:
    """Whether nobody has settled yet that the scan means the unit it was answered as."""
    doubt = getattr(scan, "doubt", None)
    return doubt is not None and doubt.settled_at is None


def contradictions(device: Device, reading: Reading) -> list[str]:
    """The facts in which a reading with the device's own serial differs from what is known of the device."""
    found = []
    if reading.issuer_scheme in SERIAL_WITHIN_PART and _differ(device.part_number, reading.part_number):
        found.append("part_number")
    if _differ(device.gtin, reading.gtin):
        found.append("gtin")
    if not reading.issuer_scheme and _differ(device.model.name if device.model else "", reading.model):
        found.append("model")
    return found


def _differ(known: str, read: str | None) -> bool:
    return bool(known and read) and known != read


def open_placement(device: Device) -> Placement | None:
    """Where the device stands now."""
    return Placement.objects.filter(device=device, until__isnull=True).select_related("site").first()


def placement_ended_by(member: Member, device: Device, client_id: UUID) -> Placement | None:
    """The placement of ``device`` that the scan with this id ended in a swap."""
    by_it = Scan.objects.filter(company_id=member.company_id, client_id=client_id)
    return Placement.objects.filter(device=device, replaced_by__scans__in=by_it).select_related("site").first()


def replacement_of(placement: Placement) -> Placement | None:
    """The placement that came in its place in a swap."""
    return Placement.objects.filter(replaces=placement).select_related("device").first()


def devices_with_serial(member: Member, serial: str) -> QuerySet[Device]:
    """Devices whose serial is exactly this, whoever issued it, as far as the member may know of them."""
    return _knowable(member, Device.objects.filter(company_id=member.company_id, serial=serial))


def near_devices(member: Member, serial: str) -> list[tuple[Device, str]]:
    """Devices that a typed serial may mean, likeliest first, each with why (a key of nearmiss.WHY)."""
    keys = list(keys_within_one_edit(serial[:LONGEST_TYPED_SERIAL]))
    found = _knowable(member, Device.objects.filter(company_id=member.company_id, serial_folded__in=keys))
    devices = list(found.select_related("model__maker")[:MOST_COMPARED])
    ranked = near_misses(serial, {device.serial for device in devices}, most=MOST_CANDIDATES)
    return [(device, miss.why) for miss in ranked for device in devices if device.serial == miss.serial][
        :MOST_CANDIDATES
    ]


def _knowable(member: Member, devices: QuerySet[Device]) -> QuerySet[Device]:
    if not sees_only_own_sites(member):
        return devices
    return devices.filter(
        Q(placements__isnull=True) | Q(placements__until__isnull=True, placements__site__in=visible_sites(member))
    ).distinct()
