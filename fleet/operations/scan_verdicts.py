"""What a scan comes to: which unit its label means, and whether it may be linked, or a person must say first.

The rules are those of design section 5 and 15: a serial whose issuer is known, or that counts within a part number or a
taught form, means one unit; a bare serial means what a person says.
"""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.utils.translation import gettext_lazy as _

from fleet.labels.reading import Identity, Reading, Refusal
from fleet.models import Device, Member, Outcome, Placement, Site
from fleet.operations.captures import Capture
from fleet.operations.devices import create_device, upgrade_device
from fleet.operations.placing import place
from fleet.operations.refusals import BadInput
from fleet.operations.scan_answers import candidate_document
from fleet.operations.site_guard import is_retired
from fleet.queries.devices import (
    MOST_CANDIDATES,
    contradictions,
    devices_with_serial,
    near_devices,
    open_placement,
    units_with_identity,
)
from fleet.queries.visibility import may_see


class BadCapture(BadInput):
    """The record itself is malformed."""

    code = "bad_capture"


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """The outcome of a scan, why, and what it is about."""

    outcome: str
    reason: str = ""
    device: Device | None = None
    placement: Placement | None = None
    other_site: Site | None = None
    candidates: tuple[dict[str, Any], ...] = ()


@dataclass(frozen=True)
class _Case:
    """One label of a unit, read at a site."""

    actor: Member
    capture: Capture
    site: Site
    reading: Reading
    identity: Identity
    now: datetime
    units: list[Device] = field(default_factory=list)

    @property
    def waits(self) -> bool:
        """Whether a person must compare the reading with the label and has not yet."""
        return (self.reading.confirm or self.capture.from_emergency_file) and not self.capture.confirmed


def judge(actor: Member, capture: Capture, site: Site, understood: Reading | Refusal, now: datetime) -> Verdict:
    """Decide on one capture, and do what follows to the device; inside the caller's transaction. Raises BadCapture."""
    if isinstance(understood, Refusal):
        return Verdict(outcome=Outcome.REFUSED, reason=understood.reason)
    if is_retired(site):
        return Verdict(outcome=Outcome.REFUSED, reason="site_retired")
    if understood.site_code:
        return Verdict(outcome=Outcome.REFUSED, reason="site_plate")
    identity = understood.identity
    if identity is None:
        return Verdict(outcome=Outcome.REFUSED, reason="no_serial")
    chosen = _chosen(actor, capture)
    units = [chosen] if chosen else list(units_with_identity(actor.company, identity)[:MOST_CANDIDATES])
    case = _Case(actor, capture, site, understood, identity, now, units)
    if not units:
        return _judge_new(case)
    known = chosen or _beyond_doubt(case)
    return _judge_known(case, known) if known else _judge_doubtful(case)


def _chosen(actor: Member, capture: Capture) -> Device | None:
    if capture.meant_device is None or not capture.confirmed:
        return None
    device = Device.objects.filter(company_id=actor.company_id, public_id=capture.meant_device).first()
    if device is None:
        raise BadCapture(_("The chosen device is not known any more. Scan the label again."), field="meant_device")
    return device


def _beyond_doubt(case: _Case) -> Device | None:
    """The unit that is meant; None where only a person can say, although units with this very identity are known."""
    fitting = [device for device in case.units if not contradictions(device, case.reading)]
    return fitting[0] if len(fitting) == 1 and case.identity.names_one_unit else None


def _judge_doubtful(case: _Case) -> Verdict:
    """Units with this identity are known, and it may be one of them or another one: a person sees them and decides."""
    if case.capture.confirmed and case.capture.another_unit:
        return _linked(case, create_device(case.actor, case.reading, case.identity))
    knowable = set(devices_with_serial(case.actor, case.identity.serial).values_list("pk", flat=True))
    alike = [device for device in case.units if device.pk in knowable]
    if not alike:
        return _judge_new(case)
    differs = any(contradictions(device, case.reading) for device in alike)
    return _asked(case, "facts_differ" if differs else "same_serial", [(device, "same") for device in alike])


def _judge_new(case: _Case) -> Verdict:
    knowable = devices_with_serial(case.actor, case.identity.serial).select_related("model__maker")
    same_serial = list(knowable[:MOST_CANDIDATES])
    here = [device for device in same_serial if _stands_at(device, case.site)]
    if len(same_serial) == len(here) == 1 and not case.identity.names_one_unit and not case.capture.confirmed:
        # The plain code beside a structured one that was scanned already: the same unit, nothing to link.
        return Verdict(outcome=Outcome.ALREADY_HERE, device=here[0], placement=open_placement(here[0]))
    if same_serial and not case.capture.confirmed:
        return _asked(case, "same_serial", [(device, "same") for device in same_serial])
    if case.waits:
        return _asked(case, "plain_reading", near_devices(case.actor, case.identity.serial))
    return _linked(case, create_device(case.actor, case.reading, case.identity))


def _judge_known(case: _Case, device: Device) -> Verdict:
    standing = open_placement(device)
    if standing is not None and standing.site_id == case.site.pk:
        return Verdict(outcome=Outcome.ALREADY_HERE, device=_as_read(case, device), placement=standing)
    if standing is not None:
        other = standing.site if may_see(case.actor, standing.site) else None
        return Verdict(outcome=Outcome.ELSEWHERE, device=device if other else None, other_site=other)
    if device.retired_at is not None:
        return Verdict(outcome=Outcome.REFUSED, reason="device_retired", device=device)
    if case.waits:
        return _asked(case, "plain_reading", [(device, "same")])
    return _linked(case, _as_read(case, device))


def _asked(case: _Case, reason: str, near: list[tuple[Device, str]]) -> Verdict:
    candidates = tuple(candidate_document(case.actor, device, why) for device, why in near)
    return Verdict(outcome=Outcome.CONFIRM, reason=reason, candidates=candidates)


def _linked(case: _Case, device: Device) -> Verdict:
    placement = place(case.actor, device, case.site, case.capture.happened_at, case.now)
    return Verdict(outcome=Outcome.LINKED, device=device, placement=placement)


def _as_read(case: _Case, device: Device) -> Device:
    """A device takes the identity of a reading that says more than its own, once a person confirmed that it is it."""
    identity = case.identity
    says_more = bool(identity.scheme) or (bool(identity.within) and not device.numbered_within)
    if case.capture.confirmed and says_more and not device.issuer_scheme and device.serial == identity.serial:
        return upgrade_device(case.actor, device, case.reading, identity)
    return device


def _stands_at(device: Device, site: Site) -> bool:
    return Placement.objects.filter(device=device, site=site, until__isnull=True).exists()
