"""Linking by scan: decode, find or create the device, place it at the site, and keep what came of it.

One transaction per capture. The same capture repeated gets the stored answer; the same UUID with other content is
refused. The rules are those of design section 5.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.labels.document import reading_document
from fleet.labels.reading import Identity, Reading, Refusal
from fleet.models import Device, Member, Outcome, Placement, Scan, Site, Stage
from fleet.operations.captures import SOURCES, Capture, fingerprint, is_secret, keyed_hash, read_codes
from fleet.operations.devices import create_device, upgrade_device
from fleet.operations.permissions import Act, require
from fleet.operations.placing import place, promote_to_installed
from fleet.operations.refusals import BadInput, Conflicting
from fleet.operations.scan_answers import ScanAnswer, answer_document, candidate_document, device_document
from fleet.operations.sites import UnknownSite
from fleet.queries.devices import device_by_identity, devices_with_serial, near_devices, open_placement
from fleet.queries.sites import site_by_code
from fleet.queries.visibility import may_see
from fleet.search import reindex

RACES = 3


class RecordMismatch(Conflicting):
    """The UUID was used before for a record with other content."""

    code = "record_mismatch"
    sentence = _("A record with this id but other content was received before. That one was kept; this one was not.")


class BadCapture(BadInput):
    """The record itself is malformed."""

    code = "bad_capture"


@dataclass(frozen=True, kw_only=True)
class _Verdict:
    outcome: str
    reason: str = ""
    device: Device | None = None
    placement: Placement | None = None
    other_site: Site | None = None
    candidates: tuple[dict[str, Any], ...] = ()


def record_scan(*, actor: Member, capture: Capture) -> ScanAnswer:
    """Record one capture and link its device if it may be linked.

    Raises UnknownSite, RecordMismatch, BadCapture, NotAllowed. Everything else is an outcome of the scan.
    """
    require(actor, Act.SCAN)
    if capture.source not in SOURCES:
        raise BadCapture(_("The record does not say how the label was read. It was not kept."), field="source")
    for _race in range(RACES):
        try:
            with transaction.atomic():
                return _stored(actor, capture) or _record(actor, capture)
        except IntegrityError:
            # Another request recorded this capture, made this device or opened its placement first: look again.
            continue
    with transaction.atomic():
        return _stored(actor, capture) or _record(actor, capture)


def _stored(actor: Member, capture: Capture) -> ScanAnswer | None:
    scan = (
        Scan.objects.filter(company_id=actor.company_id, client_id=capture.id).select_related("site", "device").first()
    )
    if scan is None:
        return None
    if scan.member_id != actor.pk or scan.fingerprint != fingerprint(capture, actor):
        raise RecordMismatch
    return ScanAnswer(scan=scan, repeated=True)


def _record(actor: Member, capture: Capture) -> ScanAnswer:
    site = site_by_code(actor, capture.site_code)
    if site is None:
        raise UnknownSite
    now = timezone.now()
    understood = read_codes(actor.company, capture.codes)
    verdict = _judge(actor, capture, site, understood, now)
    scan = _keep(actor, capture, site, understood, verdict, now)
    if verdict.outcome == Outcome.LINKED:
        promote_to_installed(actor, site, now)
        reindex([site.pk])
    return ScanAnswer(scan=scan, repeated=False)


def _judge(actor: Member, capture: Capture, site: Site, understood: Reading | Refusal, now: datetime) -> _Verdict:
    if isinstance(understood, Refusal):
        return _Verdict(outcome=Outcome.REFUSED, reason=understood.reason)
    if site.stage == Stage.RETIRED:
        return _Verdict(outcome=Outcome.REFUSED, reason="site_retired")
    if understood.site_code:
        return _Verdict(outcome=Outcome.REFUSED, reason="site_plate")
    identity = understood.identity
    if identity is None:
        return _Verdict(outcome=Outcome.REFUSED, reason="no_serial")
    known = _chosen(actor, capture) or device_by_identity(actor.company, identity)
    if known is None:
        return _judge_new(actor, capture, site, understood, identity, now)
    return _judge_known(actor, capture, site, understood, identity, known, now)


def _judge_new(
    actor: Member, capture: Capture, site: Site, reading: Reading, identity: Identity, now: datetime
) -> _Verdict:
    same_serial = list(devices_with_serial(actor, identity.serial).select_related("model__maker")[:8])
    here = [device for device in same_serial if _stands_at(device, site)]
    if len(here) == 1 and not identity.issuer and not capture.confirmed:
        # The plain code beside a structured one that was scanned already: the same unit, nothing to link.
        return _Verdict(outcome=Outcome.ALREADY_HERE, device=here[0], placement=open_placement(here[0]))
    if not capture.confirmed and (same_serial or _must_confirm(capture, reading)):
        near = [(device, "same") for device in same_serial] or near_devices(actor, identity.serial)
        return _Verdict(
            outcome=Outcome.CONFIRM,
            reason="same_serial" if same_serial else "plain_reading",
            candidates=tuple(candidate_document(actor, device, why) for device, why in near),
        )
    device = create_device(actor, reading, identity)
    return _Verdict(
        outcome=Outcome.LINKED, device=device, placement=place(actor, device, site, capture.scanned_at, now)
    )


def _judge_known(
    actor: Member, capture: Capture, site: Site, reading: Reading, identity: Identity, device: Device, now: datetime
) -> _Verdict:
    standing = open_placement(device)
    if standing is not None and standing.site_id == site.pk:
        return _Verdict(
            outcome=Outcome.ALREADY_HERE, device=_as_read(actor, capture, device, reading, identity), placement=standing
        )
    if standing is not None:
        other = standing.site if may_see(actor, standing.site) else None
        return _Verdict(outcome=Outcome.ELSEWHERE, device=device if other else None, other_site=other)
    if device.retired_at is not None:
        return _Verdict(outcome=Outcome.REFUSED, reason="device_retired", device=device)
    if _must_confirm(capture, reading) and not capture.confirmed:
        candidates = (candidate_document(actor, device, "same"),)
        return _Verdict(outcome=Outcome.CONFIRM, reason="plain_reading", candidates=candidates)
    device = _as_read(actor, capture, device, reading, identity)
    return _Verdict(
        outcome=Outcome.LINKED, device=device, placement=place(actor, device, site, capture.scanned_at, now)
    )


def _must_confirm(capture: Capture, reading: Reading) -> bool:
    return reading.confirm or capture.from_emergency_file


def _chosen(actor: Member, capture: Capture) -> Device | None:
    if capture.meant_device is None or not capture.confirmed:
        return None
    device = Device.objects.filter(company_id=actor.company_id, public_id=capture.meant_device).first()
    if device is None:
        raise BadCapture(_("The chosen device is not known any more. Scan the label again."), field="meant_device")
    return device


def _as_read(actor: Member, capture: Capture, device: Device, reading: Reading, identity: Identity) -> Device:
    """A device known by its plain serial gets the identity of a structured reading that a person confirmed is it."""
    if capture.confirmed and identity.scheme and not device.issuer_scheme and device.serial == identity.serial:
        return upgrade_device(actor, device, reading, identity)
    return device


def _stands_at(device: Device, site: Site) -> bool:
    return Placement.objects.filter(device=device, site=site, until__isnull=True).exists()


def _keep(
    actor: Member, capture: Capture, site: Site, understood: Reading | Refusal, verdict: _Verdict, now: datetime
) -> Scan:
    kept = not is_secret(capture.raw)
    scan = Scan(
        company=actor.company, client_id=capture.id, fingerprint=fingerprint(capture, actor), seq=capture.seq,
        installation=capture.installation, user=actor.user, member=actor, site=site,
        payload=_storable(capture.raw) if kept else "", symbology=capture.format[:12], source=capture.source,
        payload_class=understood.payload_class if isinstance(understood, Refusal) else understood.standard,
        payload_length=len(capture.raw), payload_mac=keyed_hash("payload", capture.raw),
        scanned_at=capture.scanned_at, received_at=now, outcome=verdict.outcome, reason=verdict.reason,
        reading=reading_document(understood) | _further_codes(capture),
        device=verdict.device, placement=verdict.placement, from_emergency_file=capture.from_emergency_file,
    )  # fmt: skip
    scan.answer = answer_document(
        device=device_document(verdict.device) if verdict.device else None,
        placement=verdict.placement, site=site, other_site=verdict.other_site, candidates=verdict.candidates,
    )  # fmt: skip
    scan.save(force_insert=True)
    return scan


def _further_codes(capture: Capture) -> dict[str, Any]:
    kept = [[_storable(raw), symbology] for raw, symbology in capture.more if not is_secret(raw)]
    return {"further_codes": kept} if kept else {}


def _storable(text: str) -> str:
    # PostgreSQL text cannot hold NUL, and neither database holds lone surrogates; such payloads are refused anyway.
    return text.replace("\x00", "\u2400").encode("utf-8", "replace").decode()
