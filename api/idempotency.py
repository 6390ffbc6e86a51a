"""``Idempotency-Key``: a repeated POST gets the answer that the first one got."""

import json
from collections.abc import Callable
from typing import Any

from django.utils.translation import gettext as _
from rest_framework.exceptions import ParseError
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import acting
from fleet.operations.captures import keyed_hash
from fleet.operations.idempotency import Answer, answer_once

LONGEST_KEY = 255


def answered_once(request: Request, act: Callable[[], Answer]) -> Response:
    """Do ``act`` once for the request's key and answer; without a key, do it.

    A key that was used for other content raises KeyReused (422), one whose first request still runs KeyInUse (409).
    """
    key = request.headers.get("Idempotency-Key")
    if key is None:
        return _response(act())
    if not 1 <= len(key) <= LONGEST_KEY or not key.isascii() or not key.isprintable():
        raise ParseError(
            _("Idempotency-Key takes 1 to 255 printable ASCII characters. Nothing was changed."), "bad_idempotency_key"
        )
    return _response(answer_once(actor=acting(request), key=key, fingerprint=_fingerprint(request), act=act))


def _response(answer: Answer) -> Response:
    return Response(answer.body, status=answer.status)


def _fingerprint(request: Request) -> str:
    content: list[Any] = [request.method, request.path, request.data]
    return keyed_hash("idempotency", json.dumps(content, sort_keys=True, default=str))  # it may hold a password
