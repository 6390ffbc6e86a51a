"""Opening and closing placements, inside the transaction of the act that does so."""

from datetime import datetime

from django.db.models import F, Max
from django.utils import timezone

from fleet.models import Device, ExpectedDevice, Member, Placement, Site, Stage
from fleet.operations.audit import record_act


def place(
    actor: Member,
    device: Device,
    site: Site,
    seen_at: datetime,
    now: datetime,
    *,
    replaces: Placement | None = None,
) -> Placement:
    """Open the device's placement at the site from ``seen_at``, clamped between its last placement's end and now.

    The database refuses a second open placement with IntegrityError.
    """
    last_end = Placement.objects.filter(device=device).aggregate(end=Max("until"))["end"]
    since = min(seen_at, now)
    if last_end is not None:
        since = max(since, last_end)
    placement = Placement.objects.create(
        company=actor.company, device=device, site=site, since=since, placed_by=actor, replaces=replaces,
        bus_role=replaces.bus_role if replaces else "", position=replaces.position if replaces else "",
    )  # fmt: skip
    _fulfil_expectation(placement)
    record_act(
        act="place_device", company=actor.company, about=device, actor=actor, site=site,
        after={"placement": str(placement.public_id), "since": since.isoformat()},
    )  # fmt: skip
    return placement


def end(actor: Member, placement: Placement, ended: str, at: datetime) -> bool:
    """Close an open placement; False where somebody else closed it first."""
    at = max(at, placement.since)
    won = Placement.objects.filter(pk=placement.pk, until__isnull=True).update(until=at, ended=ended)
    if won:
        placement.refresh_from_db(fields=["until", "ended", "bus_role", "position"])
        record_act(
            act="end_placement", company=actor.company, about=placement, actor=actor, site=placement.site,
            after={"ended": ended, "until": at.isoformat(), "device": str(placement.device.public_id)},
        )  # fmt: skip
    return bool(won)


def promote_to_installed(actor: Member, site: Site, now: datetime) -> None:
    """The first device on a planned site makes it an installed one."""
    day = timezone.localtime(now, site.zone).date()
    won = Site.objects.filter(pk=site.pk, stage=Stage.PLANNED).update(
        stage=Stage.INSTALLED, installed_on=site.installed_on or day, version=F("version") + 1
    )
    if won:
        record_act(
            act="install_site", company=actor.company, about=site, actor=actor, site=site,
            before={"stage": Stage.PLANNED.value}, after={"stage": Stage.INSTALLED.value},
        )  # fmt: skip
        site.refresh_from_db()


def _fulfil_expectation(placement: Placement) -> None:
    device = placement.device
    expected = ExpectedDevice.objects.filter(site=placement.site, fulfilled_by__isnull=True)
    match = (
        expected.filter(serial=device.serial).first()
        or expected.filter(serial="", model__isnull=False, model=device.model).first()
    )
    if match is None and device.model is not None:
        match = expected.filter(serial="", model__isnull=True, kind=device.kind).first()
    if match is not None:
        ExpectedDevice.objects.filter(pk=match.pk, fulfilled_by__isnull=True).update(fulfilled_by=placement)
