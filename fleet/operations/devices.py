"""Making a device of a reading, and saying more of a device that is known."""

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from fleet.labels.nearmiss import folded
from fleet.labels.reading import Identity, Reading
from fleet.models import Device, DeviceModel, InstalledFirmware, Kind, Member, Placement
from fleet.operations.audit import record_act
from fleet.operations.catalogue import model_of_reading
from fleet.operations.permissions import Act, require
from fleet.operations.plans import settle_plan
from fleet.operations.refusals import BadInput, NotThere
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.site_guard import require_at
from fleet.queries.devices import units_with_identity
from fleet.queries.visibility import visible_devices
from fleet.search import reindex


class UnknownDevice(NotThere):
    """No such device for this member."""

    code = "unknown_device"


class BadDescription(BadInput):
    """What was said of the device cannot be used."""

    code = "bad_description"


def create_device(actor: Member, reading: Reading, identity: Identity) -> Device:
    """The device that a reading names for the first time; inside the caller's transaction."""
    model = model_of_reading(actor.company, reading)
    device = Device(
        company=actor.company, serial=identity.serial, model=model, kind=model.kind if model else Kind.OTHER
    )
    _take_identity(device, reading, identity)
    device.twin = _units_alike(device)
    device.save(force_insert=True)
    return device


def upgrade_device(actor: Member, device: Device, reading: Reading, identity: Identity) -> Device:
    """A device takes the identity that a reading gives, which says more than its own; its history stays.

    Where another unit bears that identity already, the device stays as it is: two rows are for a person to look at.
    """
    if units_with_identity(actor.company, identity).exclude(pk=device.pk).exists():
        return device
    _take_identity(device, reading, identity)
    device.twin = 0
    if device.model is None and (model := model_of_reading(actor.company, reading)):
        device.model, device.kind = model, model.kind
    device.save()
    record_act(
        act="identify_device", company=actor.company, about=device, actor=actor,
        after={
            "issuer_scheme": device.issuer_scheme, "issuer": device.issuer, "numbered_within": device.numbered_within,
        },
    )  # fmt: skip
    return device


@unchanged_if_refused
@transaction.atomic
def describe_device(
    *, actor: Member, placement: Placement, kind: str, model: DeviceModel | None = None, position: str = ""
) -> Device:
    """Say what a placed device is and where it stands on the site.

    Raises UnknownDevice, SiteRetired, BadDescription, NotAllowed.
    """
    require_at(actor, Act.EDIT_SITE, placement.site, unknown=UnknownDevice)
    if kind not in Kind.values or (model is not None and model.company_id != actor.company_id) or len(position) > 80:
        raise BadDescription(_("Choose a kind and a model from the lists; a place takes at most 80 characters."))
    device = placement.device
    before = {"kind": device.kind, "model": str(device.model or ""), "position": placement.position}
    Device.objects.filter(pk=device.pk).update(kind=model.kind if model else kind, model=model)
    Placement.objects.filter(pk=placement.pk).update(position=position.strip())
    device.refresh_from_db()
    settle_plan(placement.site)
    record_act(
        act="describe_device", company=actor.company, about=device, actor=actor, site=placement.site,
        before=before, after={"kind": device.kind, "model": str(model or ""), "position": position.strip()},
    )  # fmt: skip
    reindex([placement.site_id])
    return device


@unchanged_if_refused
def describe_unit(*, actor: Member, device: Device, kind: str, model: DeviceModel | None = None) -> Device:
    """Say what a device is, wherever it stands or stood. Raises UnknownDevice, BadDescription, NotAllowed."""
    require(actor, Act.EDIT_SITE)
    if not visible_devices(actor).filter(pk=device.pk).exists():
        raise UnknownDevice
    if kind not in Kind.values or (model is not None and model.company_id != actor.company_id):
        raise BadDescription(_("Choose a kind and a model from the lists. Nothing was saved."))
    placement = Placement.objects.filter(device=device, until__isnull=True).select_related("site", "device").first()
    if placement is not None:
        return describe_device(actor=actor, placement=placement, kind=kind, model=model, position=placement.position)
    with transaction.atomic():
        row = Device.objects.select_for_update(of=("self",)).select_related("model").get(pk=device.pk)
        before = {"kind": row.kind, "model": str(row.model or "")}
        row.kind, row.model = model.kind if model else kind, model
        row.save(update_fields=["kind", "model"])
        record_act(
            act="describe_device", company=actor.company, about=row, actor=actor,
            before=before, after={"kind": row.kind, "model": str(model or "")},
        )  # fmt: skip
    return row


@unchanged_if_refused
def record_firmware(*, actor: Member, device: Device, version: str) -> InstalledFirmware:
    """Record what firmware a device was seen to run. Raises UnknownDevice, BadDescription, NotAllowed."""
    require(actor, Act.EDIT_SITE)
    if not visible_devices(actor).filter(pk=device.pk).exists():
        raise UnknownDevice
    if not version.strip() or len(version) > 40:
        raise BadDescription(_("A firmware version takes 1 to 40 characters. Nothing was saved."), field="version")
    with transaction.atomic():
        seen = InstalledFirmware.objects.create(
            company=actor.company, device=device, version=version.strip(), recorded_by=actor
        )
        record_act(
            act="record_firmware", company=actor.company, about=device, actor=actor, after={"version": seen.version}
        )
        reindex(Placement.objects.filter(device=device, until__isnull=True).values_list("site_id", flat=True))
    return seen


def _units_alike(device: Device) -> int:
    """The first free number among the company's units with the same identity."""
    identity = Identity(device.issuer_scheme, device.issuer, device.serial, device.numbered_within)
    last = units_with_identity(device.company, identity).last()
    return 0 if last is None else last.twin + 1


def _take_identity(device: Device, reading: Reading, identity: Identity) -> None:
    device.issuer_scheme, device.issuer, device.numbered_within = identity.scheme, identity.issuer, identity.within
    device.serial_folded = folded(device.serial)
    device.gtin = reading.gtin or device.gtin
    device.part_number = (reading.part_number or device.part_number)[:80]
    device.batch = (reading.batch or device.batch)[:40]
    device.produced_on = reading.date or device.produced_on
    device.mac = reading.mac or device.mac
    device.manufacturer_code = reading.manufacturer_code or device.manufacturer_code
