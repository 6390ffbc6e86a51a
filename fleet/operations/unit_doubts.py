"""Settling a scan that was answered as a known unit although its label says otherwise."""

from django.db import transaction
from django.utils import timezone

from fleet.models import Member, Scan, UnitDoubt
from fleet.operations.audit import record_act
from fleet.operations.captures import Capture
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.scan_answers import ScanAnswer
from fleet.operations.scans import record_scan


@unchanged_if_refused
def confirm_label(*, actor: Member, asked: Scan, capture: Capture) -> ScanAnswer:
    """Record a person's confirmation of an earlier scan, and settle the doubt about that scan where there is one.

    Raises what record_scan raises.
    """
    with transaction.atomic():
        answer = record_scan(actor=actor, capture=capture)
        open_doubt = UnitDoubt.objects.filter(scan=asked, settled_at__isnull=True)
        if open_doubt.update(settled_at=timezone.now()):
            record_act(
                act="settle_unit", company=actor.company, about=asked.doubt, actor=actor, site=asked.site,
                after={"scan": str(asked.client_id), "confirmed_by": str(answer.scan.client_id)},
            )  # fmt: skip
    return answer
