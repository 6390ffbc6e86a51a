"""Finding devices: by identity, by what a typed serial may mean, and where they stand."""

from django.db.models import Q, QuerySet

from fleet.labels.nearmiss import keys_within_one_edit, near_misses
from fleet.labels.reading import Identity
from fleet.models import Company, Device, Member, Placement
from fleet.queries.visibility import sees_only_own_sites, visible_sites

MOST_CANDIDATES = 8
MOST_COMPARED = 200
LONGEST_TYPED_SERIAL = 64


def device_by_identity(company: Company, identity: Identity) -> Device | None:
    """The company's device with exactly this identity."""
    return (
        Device.objects.filter(
            company=company, issuer_scheme=identity.scheme, issuer=identity.issuer, serial=identity.serial
        )
        .select_related("model__maker")
        .first()
    )


def open_placement(device: Device) -> Placement | None:
    """Where the device stands now."""
    return Placement.objects.filter(device=device, until__isnull=True).select_related("site").first()


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
