"""Linking by scan, one capture or a batch."""

from typing import Any

from django.db import transaction
from django.utils.translation import gettext_lazy as _
from rest_framework.exceptions import ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import acting
from api.describe import describe
from api.documents.scans import SCAN_ANSWER, SCAN_REQUEST, CaptureForm, ScanBatch, ScanDocument
from api.endpoint import Endpoint, read
from api.idempotency import answered_once
from api.problems import problem_of
from fleet.models import Member
from fleet.operations.captures import Capture
from fleet.operations.idempotency import Answer
from fleet.operations.refusals import ActRefused
from fleet.operations.scans import record_scan


class Scans(Endpoint):
    """Captured labels."""

    scopes = {"POST": "scans:write"}

    @describe(
        _("Record one scan, or a batch of up to 100, each answered on its own"), tag="scans",
        operation_id="record_scans", request=SCAN_REQUEST, answers={200: SCAN_ANSWER, 201: ScanDocument},
        problems=(404,), creates=True,
    )  # fmt: skip
    def post(self, request: Request) -> Response:
        """201 with what came of a new capture, 200 for a repeated one; a batch is answered with 200."""
        member = acting(request)
        if isinstance(request.data, dict) and "scans" in request.data:
            batch = self.parsed(ScanBatch, request)["scans"]
            return answered_once(request, lambda: Answer(200, {"results": [_one_of(member, item) for item in batch]}))
        capture = capture_of(self.parsed(CaptureForm, request))
        return answered_once(request, lambda: _recorded(member, capture))


def capture_of(values: dict[str, Any]) -> Capture:
    """The capture that a checked form describes."""
    more = tuple((code["raw"], code["format"]) for code in values.get("more", ()))
    plain = {name: value for name, value in values.items() if name not in {"site", "more"}}
    return Capture(site_code=values["site"], more=more, **plain)


def _recorded(member: Member, capture: Capture) -> Answer:
    answer = record_scan(actor=member, capture=capture)
    return Answer(200 if answer.repeated else 201, answer.document)


def _one_of(member: Member, item: dict[str, Any]) -> dict[str, Any]:
    named = str(item.get("id", ""))[:64] or None
    try:
        capture = capture_of(read(CaptureForm, item))
        with transaction.atomic():
            answer = _recorded(member, capture)
    except (ActRefused, ValidationError) as error:
        problem, _headers = problem_of(error)
        return {"id": named, "status": problem["status"], "problem": problem}
    return {"id": named, "status": answer.status, "scan": answer.body}
