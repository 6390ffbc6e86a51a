"""What the plan says will stand at a site: how many of each kind (none is an answer too), and single units."""

from collections.abc import Mapping

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from fleet.models import DeviceModel, ExpectedDevice, Kind, Member, NoneExpected, Placement, Site
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act
from fleet.operations.refusals import BadInput, NotThere
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.site_guard import require_at
from fleet.queries.plans import stated_counts

MOST_EXPECTED = 999


class BadPlan(BadInput):
    """The kind is unknown, or the number cannot be used."""

    code = "bad_plan"


class UnitNotPlanned(NotThere):
    """The plan of this site names no such unit."""

    code = "unit_not_planned"


@unchanged_if_refused
@transaction.atomic
def state_plan(*, actor: Member, site: Site, counts: Mapping[str, int | None]) -> None:
    """So many of each kind will stand at the site: 0 says that none will, None that nobody said. Other kinds stay.

    Raises UnknownSite, SiteRetired, BadPlan, NotAllowed.
    """
    require_at(actor, Act.EDIT_SITE, site)
    for kind, count in counts.items():
        if kind not in Kind.values or (count is not None and not 0 <= count <= MOST_EXPECTED):
            raise BadPlan(
                _("Give a whole number from 0 to %(most)d. Nothing was saved.") % {"most": MOST_EXPECTED}, field=kind
            )
    before = stated_counts(site)
    changes = {kind: count for kind, count in counts.items() if before[kind] != count}
    if not changes:
        return
    for kind, count in changes.items():
        _state_kind(actor, site, kind, count)
    _record(actor, site, {kind: before[kind] for kind in changes}, changes)
    settle_plan(site)


@unchanged_if_refused
@transaction.atomic
def plan_unit(
    *, actor: Member, site: Site, kind: str, model: DeviceModel | None = None, serial: str = "", position: str = ""
) -> ExpectedDevice:
    """One more device will stand at the site, of which more than the kind is known; its model settles the kind.

    Raises UnknownSite, SiteRetired, BadPlan, NotAllowed.
    """
    require_at(actor, Act.EDIT_SITE, site)
    serial, position = serial.strip(), position.strip()
    kind = model.kind if model else kind
    if kind not in Kind.values or (model is not None and model.company_id != site.company_id):
        raise BadPlan(_("Choose a kind and a model from the lists. Nothing was saved."), field="kind")
    if len(serial) > 253 or len(position) > 80:
        raise BadPlan(_("A serial takes at most 253 characters, a place 80. Nothing was saved."), field="serial")
    if serial and ExpectedDevice.objects.filter(site=site, serial=serial).exists():
        raise BadPlan(_("This serial number is planned here already."), field="serial")
    if (stated_counts(site)[kind] or 0) >= MOST_EXPECTED:
        raise BadPlan(_("No more devices of this kind can be planned here."), field="kind")
    NoneExpected.objects.filter(site=site, kind=kind).delete()
    unit = ExpectedDevice.objects.create(
        company=site.company, site=site, kind=kind, model=model, serial=serial, position=position
    )
    _record(actor, site, {}, {"kind": kind, "model": str(model or ""), "serial": serial, "position": position})
    settle_plan(site)
    unit.refresh_from_db()
    return unit


@unchanged_if_refused
@transaction.atomic
def take_unit_off_plan(*, actor: Member, site: Site, serial: str) -> None:
    """The unit with this serial is not planned here any more. Raises UnknownSite, SiteRetired, UnitNotPlanned."""
    require_at(actor, Act.EDIT_SITE, site)
    unit = ExpectedDevice.objects.filter(site=site, serial=serial).exclude(serial="").first()
    if unit is None:
        raise UnitNotPlanned
    _record(actor, site, {"kind": unit.kind, "serial": unit.serial}, {})
    unit.delete()


@unchanged_if_refused
@transaction.atomic
def change_plan(*, actor: Member, site: Site, counts: Mapping[str, int | None], take_off: str = "") -> None:
    """Both at once: ``counts`` as in state_plan, and the unit with the serial ``take_off`` off the plan.

    Raises what the two raise.
    """
    if take_off:
        take_unit_off_plan(actor=actor, site=site, serial=take_off)
    state_plan(actor=actor, site=site, counts=counts)


def settle_plan(site: Site) -> None:
    """Match what stands at the site with what is expected there: by serial, else by model, else by kind."""
    for row in ExpectedDevice.objects.filter(site=site, fulfilled_by__isnull=False).select_related(
        "fulfilled_by__device"
    ):
        undone = row.fulfilled_by is not None and row.fulfilled_by.ended == Placement.Ended.UNDONE
        if undone or (row.fulfilled_by is not None and row.fulfilled_by.device.kind != row.kind):
            ExpectedDevice.objects.filter(pk=row.pk).update(fulfilled_by=None)
    waiting = list(ExpectedDevice.objects.filter(site=site, fulfilled_by__isnull=True).order_by("pk"))
    standing = Placement.objects.filter(site=site, until__isnull=True, fulfils__isnull=True).select_related("device")
    for placement in standing.order_by("since", "pk"):
        fulfilled = _expectation_for(placement, waiting)
        if fulfilled is not None:
            waiting.remove(fulfilled)
            ExpectedDevice.objects.filter(pk=fulfilled.pk, fulfilled_by__isnull=True).update(fulfilled_by=placement)


def _expectation_for(placement: Placement, waiting: list[ExpectedDevice]) -> ExpectedDevice | None:
    device = placement.device
    told = device.model_id is not None or device.kind != Kind.OTHER  # "other" is also what a new device starts as
    fits = (
        *(row for row in waiting if row.serial and row.serial == device.serial),
        *(row for row in waiting if not row.serial and row.model_id and row.model_id == device.model_id),
        *(row for row in waiting if not row.serial and not row.model_id and told and row.kind == device.kind),
    )
    return next(iter(fits), None)


def _state_kind(actor: Member, site: Site, kind: str, count: int | None) -> None:
    rows = ExpectedDevice.objects.filter(site=site, kind=kind)
    NoneExpected.objects.filter(site=site, kind=kind).delete()
    if count == 0:
        NoneExpected.objects.create(company=site.company, site=site, kind=kind, stated_by=actor)
    # What is known least goes first: no serial, no model, nothing fulfilled, the latest.
    kept = sorted(
        rows.values_list("pk", "serial", "model_id", "fulfilled_by_id"),
        key=lambda row: (not row[3], not row[1], row[2] is None, row[0]),
    )[: count or 0]
    rows.exclude(pk__in=[row[0] for row in kept]).delete()
    ExpectedDevice.objects.bulk_create(
        ExpectedDevice(company=site.company, site=site, kind=kind) for _ in range((count or 0) - len(kept))
    )


def _record(actor: Member, site: Site, before: Mapping[str, object], after: Mapping[str, object]) -> None:
    record_act(
        act="state_plan", company=actor.company, about=site, actor=actor, site=site,
        before=dict(before), after=dict(after),
    )  # fmt: skip
