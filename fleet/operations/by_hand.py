"""Placing a device whose label cannot be scanned: a person states kind and serial."""

from dataclasses import replace
from uuid import uuid5

from django.db import transaction

from fleet.models import DeviceModel, Member, Outcome
from fleet.operations.captures import Capture
from fleet.operations.devices import describe_device
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.scan_answers import ScanAnswer
from fleet.operations.scans import record_scan


@unchanged_if_refused
def place_by_hand(
    *, actor: Member, capture: Capture, kind: str, model: DeviceModel | None = None, position: str = ""
) -> ScanAnswer:
    """Record the typed capture and, where nothing else may be meant, link and describe its device; all or nothing.

    Where the serial may mean a device that is known, the answer asks (outcome ``confirm``) and nothing is linked.
    Raises what record_scan and describe_device raise.
    """
    with transaction.atomic():
        answer = record_scan(actor=actor, capture=capture)
        asks = answer.scan.outcome == Outcome.CONFIRM and not answer.scan.answer["candidates"]
        if asks and answer.scan.reason == "plain_reading":
            stated = replace(capture, id=uuid5(capture.id, "stated by hand"), confirmed=True)
            answer = record_scan(actor=actor, capture=stated)
        if answer.scan.outcome == Outcome.LINKED and answer.scan.placement and not answer.repeated:
            describe_device(actor=actor, placement=answer.scan.placement, kind=kind, model=model, position=position)
    return answer
