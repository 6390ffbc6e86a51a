"""The field page's two endpoints: who is signed in with the day's work, and records of any kind."""

import base64
import logging
from typing import Any

from django.conf import settings
from django.middleware.csrf import get_token
from django.utils import timezone
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from rest_framework.exceptions import NotAuthenticated, PermissionDenied, ValidationError
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import FieldSession, acting
from api.endpoint import Endpoint
from api.field_work import work_of
from api.problems import problem_of
from fleet.field_page import OLDEST_SCHEMA, SCHEMA, page_version
from fleet.models import Member
from fleet.operations.field_entries import read_entry
from fleet.operations.field_records import take_record
from fleet.operations.field_seals import seal_key
from fleet.queries.members import has_left

SERVER = "rooftally"
MOST_RECORDS = 20
logger = logging.getLogger(__name__)


class Session(Endpoint):
    """Proves that this is our server, and says for whom records may be sent."""

    authentication_classes = [FieldSession]
    schema = None

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """A phone names its member: one who left is told apart from one who is only signed out."""
        try:
            super().initial(request, *args, **kwargs)
        except (NotAuthenticated, PermissionDenied) as refusal:
            if not has_left(request.query_params.get("member", "")):
                raise
            raise PermissionDenied(
                _("This person is no longer a member of the company. What they had not sent is for the office."),
                code="no_longer_member",
            ) from refusal

    def get(self, request: Request) -> Response:
        """The acting member, a CSRF token, the page's versions and the day's work."""
        member = acting(request)
        return Response(
            {
                "server": SERVER,
                "now": timezone.now().isoformat(),
                "page": {"version": page_version(), "schema": SCHEMA, "oldest_schema": OLDEST_SCHEMA},
                "language": get_language(),
                "user": str(member.user_id),
                "name": member.user.get_full_name(),
                "member": str(member.public_id),
                "role": member.role,
                "company": {"id": str(member.company.public_id), "name": member.company.name},
                "csrf": get_token(request),
                "seal_key": base64.b64encode(seal_key(member)).decode(),
                "work": work_of(member),
            }
        )


class Records(Endpoint):
    """Records of scans, sightings, checks, consents and files, each taken once and answered by its UUID."""

    authentication_classes = [FieldSession]
    longest_body = settings.LONGEST_BODY
    schema = None

    def post(self, request: Request) -> Response:
        """One answer per record, in their order: what came of it, or its problem; a bad one spoils no other."""
        records = request.data.get("records") if isinstance(request.data, dict) else None
        if not isinstance(records, list) or not 1 <= len(records) <= MOST_RECORDS:
            raise ValidationError({"records": [_("Send 1 to %(most)d records at a time.") % {"most": MOST_RECORDS}]})
        member = acting(request)
        return Response({"server": SERVER, "answers": [_answer(member, record) for record in records]})


def _answer(member: Member, record: Any) -> dict[str, Any]:
    named = record.get("id") if isinstance(record, dict) and isinstance(record.get("id"), str) else None
    try:
        taken = take_record(actor=member, entry=read_entry(record))
    except Exception as error:  # one record's fault, ours or its own, must not keep the others from their answers
        document, _headers = problem_of(error)
        if document["status"] == 500:
            logger.exception("a field record could not be taken")
        return {"id": named, "status": document["status"], "problem": document}
    return {"id": named, "status": 200 if taken.repeated else 201, "result": taken.document}
