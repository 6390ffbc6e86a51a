"""Moving, swapping and retiring devices, and saying which inverter leads."""

from datetime import datetime, timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Device, Kind, Member, Outcome, Placement, Scan, Site
from fleet.operations.audit import record_act
from fleet.operations.captures import Capture
from fleet.operations.devices import UnknownDevice
from fleet.operations.permissions import Act, may, require
from fleet.operations.placing import end, place, promote_to_installed
from fleet.operations.plans import settle_plan
from fleet.operations.refusals import Conflicting, NotAllowed
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.scan_answers import ScanAnswer
from fleet.operations.scans import record_scan
from fleet.operations.site_guard import require_at
from fleet.queries.devices import open_placement
from fleet.queries.visibility import may_see
from fleet.search import reindex

UNDO_FREELY = timedelta(days=1)


class NotStanding(Conflicting):
    """The device stands nowhere, or the placement was closed meanwhile."""

    code = "not_standing"
    sentence = _("This device does not stand there any more, so nothing was changed. Reload and look again.")


class AlreadyHere(Conflicting):
    """The device stands at that site already."""

    code = "already_here"
    sentence = _("The device stands at this site already. Nothing was changed.")


class NewDeviceNotLinked(Conflicting):
    """The replacement could not be linked, so the old device stays where it is; ``facts["answer"]`` says why."""

    code = "new_device_not_linked"
    sentence = _("The new device was not linked, so the old one stays in place.")


class SameDevice(Conflicting):
    """The label handed in is that of the device that goes."""

    code = "same_device"
    sentence = _(
        "This is the label of the device that goes, so nothing was swapped. Hand in the label of the one that comes in."
    )


class NotAnInverter(Conflicting):
    """Only an inverter leads or follows."""

    code = "not_an_inverter"
    sentence = _("Only an inverter that stands at the site can lead. Nothing was changed.")


@unchanged_if_refused
def move_device(*, actor: Member, device: Device, to_site: Site, at: datetime | None = None) -> Placement:
    """Close the device's open placement and open one at ``to_site``, both or neither.

    Raises UnknownSite, UnknownDevice, NotStanding, AlreadyHere, SiteRetired, NotAllowed.
    """
    now = timezone.now()
    try:
        with transaction.atomic():
            require_at(actor, Act.SCAN, to_site)
            standing = _visible_standing(actor, device)
            if standing.site_id == to_site.pk:
                raise AlreadyHere
            moment = min(at or now, now)
            if not end(actor, standing, Placement.Ended.MOVED, moment):
                raise NotStanding
            placement = place(actor, device, to_site, moment, now)
            promote_to_installed(actor, to_site, now)
            reindex([standing.site_id, to_site.pk])
    except IntegrityError as error:
        raise NotStanding from error
    return placement


@unchanged_if_refused
@transaction.atomic
def swap_device(*, actor: Member, old: Placement, capture: Capture) -> ScanAnswer:
    """Replace a standing device by the one whose label was captured, both or neither; the same capture again, once.

    The new placement names the old one and takes over its place and its role among several inverters. Where a person
    must look first, NewDeviceNotLinked holds the question; the capture with ``confirmed`` answers it.
    Raises UnknownDevice, SiteRetired, NotStanding, SameDevice, NewDeviceNotLinked and what record_scan raises.
    """
    require_at(actor, Act.SCAN, old.site, unknown=UnknownDevice)
    if (before := _swapped_before(actor, old, capture)) is not None:
        return before
    if not end(actor, old, Placement.Ended.SWAPPED, min(capture.happened_at, timezone.now())):
        raise NotStanding
    answer = record_scan(actor=actor, capture=capture)
    if answer.scan.device_id == old.device_id:
        raise SameDevice
    if answer.scan.outcome != Outcome.LINKED or answer.scan.placement is None:
        raise NewDeviceNotLinked(answer=answer.document)
    new = answer.scan.placement
    Placement.objects.filter(pk=new.pk).update(replaces=old, bus_role=old.bus_role, position=old.position)
    record_act(
        act="swap_device", company=actor.company, about=new.device, actor=actor, site=old.site,
        before={"device": str(old.device.public_id)}, after={"device": str(new.device.public_id)},
    )  # fmt: skip
    reindex([old.site_id])
    return answer


@unchanged_if_refused
def retire_device(*, actor: Member, device: Device) -> Device:
    """Take a device out of service for good. Raises UnknownDevice, NotAllowed."""
    require(actor, Act.RETIRE)
    if device.company_id != actor.company_id:
        raise UnknownDevice
    now = timezone.now()
    with transaction.atomic():
        standing = open_placement(device)
        if standing is not None and not end(actor, standing, Placement.Ended.RETIRED, now):
            raise NotStanding
        if not Device.objects.filter(pk=device.pk, retired_at__isnull=True).update(retired_at=now):
            raise NotStanding
        device.refresh_from_db()
        record_act(
            act="retire_device",
            company=actor.company,
            about=device,
            actor=actor,
            site=standing.site if standing else None,
        )
        if standing is not None:
            reindex([standing.site_id])
    return device


@unchanged_if_refused
@transaction.atomic
def undo_placement(*, actor: Member, placement: Placement) -> Placement:
    """A placement made by mistake ends where it began. After a day only an administrator may do so.

    Raises UnknownDevice, SiteRetired, NotStanding, NotAllowed.
    """
    require_at(actor, Act.SCAN, placement.site, unknown=UnknownDevice)
    if timezone.now() - placement.since > UNDO_FREELY and not may(actor, Act.UNDO_LATE):
        raise NotAllowed(_("After a day only an administrator undoes a link. Nothing was changed."))
    if not end(actor, placement, Placement.Ended.UNDONE, placement.since):
        raise NotStanding
    settle_plan(placement.site)
    reindex([placement.site_id])
    return placement


@unchanged_if_refused
@transaction.atomic
def lead_inverter(*, actor: Member, placement: Placement) -> Placement:
    """This inverter leads; every other one that stands at the site follows.

    Raises UnknownDevice, SiteRetired, NotAnInverter, NotAllowed.
    """
    require_at(actor, Act.EDIT_SITE, placement.site, unknown=UnknownDevice)
    inverters = Placement.objects.filter(site=placement.site, until__isnull=True, device__kind=Kind.INVERTER)
    if not inverters.filter(pk=placement.pk).exists():
        raise NotAnInverter
    inverters.exclude(pk=placement.pk).update(bus_role=Placement.BusRole.FOLLOWS)
    Placement.objects.filter(pk=placement.pk).update(bus_role=Placement.BusRole.LEADS)
    record_act(
        act="lead_inverter", company=actor.company, about=placement, actor=actor, site=placement.site,
        after={"leads": str(placement.device.public_id)},
    )  # fmt: skip
    placement.refresh_from_db()
    return placement


def _swapped_before(actor: Member, old: Placement, capture: Capture) -> ScanAnswer | None:
    """The answer that this very capture got when it swapped the device: a second press, or a lost answer."""
    by_it = Scan.objects.filter(company_id=actor.company_id, client_id=capture.id, placement__replaces=old)
    return record_scan(actor=actor, capture=capture) if by_it.exists() else None


def _visible_standing(actor: Member, device: Device) -> Placement:
    if device.company_id != actor.company_id:
        raise UnknownDevice
    standing = open_placement(device)
    if standing is None:
        raise NotStanding
    if not may_see(actor, standing.site):
        raise UnknownDevice
    return standing
