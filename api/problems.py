"""RFC 9457 problem details: every error of the API as one document with a stable ``code``."""

import logging
from typing import Any

from django.conf import settings
from django.core.exceptions import PermissionDenied, RequestDataTooBig, SuspiciousOperation, TooManyFieldsSent
from django.http import Http404, UnreadablePostError
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from rest_framework import exceptions, status
from rest_framework.response import Response

from fleet.full_disk import is_full
from fleet.operations.files import NoRoom
from fleet.operations.refusals import ActRefused, BadInput, Conflicting, NotAllowed, NotThere, Unable

MEDIA_TYPE = "application/problem+json"
logger = logging.getLogger(__name__)
_NO_ROOM = gettext_lazy(
    "There is no room left on this installation’s disk, so this was not done; all that was kept before is still there. "
    "Keep your copy and send it again later. Whoever runs the installation has to make room."
)

STATUS_OF_REFUSAL: tuple[tuple[type[ActRefused], int], ...] = (
    (NotAllowed, status.HTTP_403_FORBIDDEN),
    (NotThere, status.HTTP_404_NOT_FOUND),
    (Conflicting, status.HTTP_409_CONFLICT),
    (BadInput, status.HTTP_422_UNPROCESSABLE_ENTITY),
)


class TooLarge(exceptions.APIException):
    """The body is longer than the endpoint takes."""

    status_code = status.HTTP_413_REQUEST_ENTITY_TOO_LARGE
    default_code = "too_large"


class Busy(exceptions.APIException):
    """Too much is under way to begin this too; it may be sent again soon."""

    status_code = status.HTTP_503_SERVICE_UNAVAILABLE
    default_code = "busy"
    wait = 4


class Unprocessable(exceptions.APIException):
    """The request is well formed, but one of its values cannot be used."""

    status_code = status.HTTP_422_UNPROCESSABLE_ENTITY
    default_code = "invalid"


def problem_response(error: Exception, context: dict[str, Any]) -> Response:
    """The problem document of ``error``; a fault of ours is logged and answered with 500."""
    document, headers = problem_of(error)
    if document["status"] == status.HTTP_500_INTERNAL_SERVER_ERROR:
        logger.error("an API request failed", exc_info=error)
    return Response(document, status=document["status"], headers=headers, content_type=MEDIA_TYPE)


def problem_of(error: Exception) -> tuple[dict[str, Any], dict[str, str]]:
    """The problem document of ``error`` and the headers that go with it."""
    if is_full(error) and not isinstance(error, ActRefused):
        error = NoRoom(_NO_ROOM)
    if isinstance(error, ActRefused):
        return refusal_problem(error), {}
    known = _as_api_exception(error)
    if isinstance(known, exceptions.ValidationError):
        return _validation_problem(known), {}
    return _api_problem(known), _headers(known)


def refusal_problem(error: ActRefused) -> dict[str, Any]:
    """The problem document of an act that was refused."""
    code = next((code for kind, code in STATUS_OF_REFUSAL if isinstance(error, kind)), 422)
    if isinstance(error, Unable):
        code = error.status
    document = problem(code, error.code, str(error.sentence))
    if lines := _refused_fields(error):
        document["errors"] = lines
    if facts := {name: value for name, value in error.facts.items() if name != "errors"}:
        document["facts"] = facts
    return document


def _refused_fields(error: ActRefused) -> list[dict[str, str]]:
    by_field: dict[str, list[str]] = dict(error.facts.get("errors", {}))
    if error.field:
        by_field.setdefault(error.field, [str(error.sentence)])
    return [
        {"pointer": _step(name) if name != "__all__" else "", "code": error.code, "detail": str(sentence)}
        for name, sentences in by_field.items()
        for sentence in sentences
    ]


def problem(status_code: int, code: str, detail: str) -> dict[str, Any]:
    """A problem document with the members that all have."""
    return {
        "type": f"{settings.BASE_URL}{reverse('api:reference')}#problem-{code}",
        "title": _title(status_code),
        "status": status_code,
        "code": code,
        "detail": detail,
    }


def _title(status_code: int) -> str:
    return {
        400: _("Bad request"),
        401: _("Not signed in"),
        403: _("Not allowed"),
        404: _("Not found"),
        405: _("Method not allowed"),
        409: _("Conflict"),
        413: _("Too large"),
        415: _("Media type not taken"),
        422: _("Invalid content"),
        429: _("Too many requests"),
        503: _("Not possible now"),
        507: _("No room left"),
    }.get(status_code, _("Failed"))


def _as_api_exception(error: Exception) -> exceptions.APIException:
    if isinstance(error, exceptions.APIException):
        return error
    if isinstance(error, Http404):
        return exceptions.NotFound(_("There is nothing here, or it is not yours to see."))
    if isinstance(error, PermissionDenied):
        return exceptions.PermissionDenied()
    if isinstance(error, (RequestDataTooBig, TooManyFieldsSent)):
        return TooLarge(_("The request is too large. Nothing was changed. Send less at a time."))
    if isinstance(error, (SuspiciousOperation, UnreadablePostError)):
        return exceptions.ParseError(_("The request could not be read. Nothing was changed."))
    return exceptions.APIException(_("A fault of ours stopped this request. Nothing was half-written. Try again."))


def _api_problem(error: exceptions.APIException) -> dict[str, Any]:
    code = getattr(error.detail, "code", None) or error.default_code
    if code == "permission_denied" and "CSRF" in str(error.detail):
        code = "csrf_failed"
    return problem(error.status_code, "failed" if error.status_code == 500 else code, str(error.detail))


def _headers(error: exceptions.APIException) -> dict[str, str]:
    headers = {}
    if challenge := getattr(error, "auth_header", None):
        headers["WWW-Authenticate"] = str(challenge)
    if (wait := getattr(error, "wait", None)) is not None:
        headers["Retry-After"] = str(int(wait) + 1)
    return headers


def _validation_problem(error: exceptions.ValidationError) -> dict[str, Any]:
    sentence = _("Some values cannot be used. Nothing was changed. Correct them and send again.")
    return problem(422, "invalid", sentence) | {"errors": list(_flat(error.get_full_details(), ""))}


def _flat(details: Any, pointer: str) -> list[dict[str, str]]:
    """DRF's nested details as a flat list of JSON pointers (RFC 6901), codes and sentences."""
    if isinstance(details, dict) and set(details) == {"message", "code"}:
        return [{"pointer": pointer, "code": str(details["code"]), "detail": str(details["message"])}]
    if isinstance(details, dict):
        steps = [(_step(name), inner) for name, inner in details.items()]
    elif all(isinstance(inner, dict) and set(inner) == {"message", "code"} for inner in details):
        steps = [("", inner) for inner in details]
    else:
        steps = [(f"/{place}", inner) for place, inner in enumerate(details)]
    return [line for step, inner in steps for line in _flat(inner, pointer + step)]


def _step(name: object) -> str:
    if name == "non_field_errors":
        return ""
    return "/" + str(name).replace("~", "~0").replace("/", "~1")
