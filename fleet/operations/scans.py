"""Linking by scan: decode, find or create the device, place it at the site, and keep what came of it.

One transaction per capture. The same capture repeated gets the stored answer; the same UUID with other content is
refused. The rules are those of design section 5.
"""

from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.labels.document import reading_document
from fleet.labels.reading import Reading, Refusal
from fleet.models import Member, Outcome, Scan, Site
from fleet.operations.captures import SOURCES, Capture, fingerprint, is_secret, keyed_hash, read_codes
from fleet.operations.permissions import Act, require
from fleet.operations.placing import promote_to_installed
from fleet.operations.refusals import Conflicting
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.scan_answers import ScanAnswer, answer_document, device_document
from fleet.operations.scan_verdicts import BadCapture, Verdict, judge
from fleet.operations.site_guard import UnknownSite
from fleet.queries.sites import site_by_code
from fleet.search import reindex

RACES = 3


class RecordMismatch(Conflicting):
    """The UUID was used before for a record with other content."""

    code = "record_mismatch"
    sentence = _("A record with this id but other content was received before. That one was kept; this one was not.")


@unchanged_if_refused
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
    verdict = judge(actor, capture, site, understood, now)
    scan = _keep(actor, capture, site, understood, verdict, now)
    if verdict.outcome == Outcome.LINKED:
        promote_to_installed(actor, site, now)
        reindex([site.pk])
    return ScanAnswer(scan=scan, repeated=False)


def _keep(
    actor: Member, capture: Capture, site: Site, understood: Reading | Refusal, verdict: Verdict, now: datetime
) -> Scan:
    kept = not is_secret(capture.raw)
    scan = Scan(
        company=actor.company, client_id=capture.id, fingerprint=fingerprint(capture, actor), seq=capture.seq,
        installation=capture.installation, user=actor.user, member=actor, site=site,
        payload=_storable(capture.raw) if kept else "", symbology=_storable(capture.format)[:12], source=capture.source,
        payload_class=understood.payload_class if isinstance(understood, Refusal) else understood.standard,
        payload_length=len(capture.raw), payload_mac=keyed_hash("payload", capture.raw),
        scanned_at=capture.happened_at, skew=capture.skew, received_at=now,
        outcome=verdict.outcome, reason=verdict.reason,
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
    kept = [[_storable(raw), _storable(symbology)] for raw, symbology in capture.more if not is_secret(raw)]
    return {"further_codes": kept} if kept else {}


def _storable(text: str) -> str:
    # PostgreSQL text cannot hold NUL, and neither database holds lone surrogates; such payloads are refused anyway.
    return text.replace("\x00", "\u2400").encode("utf-8", "replace").decode()
