"""What no request may be or hold, asked before anything reads it: too long, or with a character that no text has."""

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse, JsonResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _

FORM_MOST = 1_000_000
"""Bytes that a form may take besides its file, and all that somebody may send who is not signed in."""
FORMS = ("application/x-www-form-urlencoded", "multipart/form-data")


class Admission:
    """Middleware. Bodies are measured by what they announce: no server here hands on more than that.

    NUL is in no text that a person means, and PostgreSQL cannot hold it; the API's JSON is looked through elsewhere.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer ``request``, unless its address or a header holds a NUL."""
        named = (request.path_info, *request.COOKIES.values(), request.META.get("HTTP_X_FORWARDED_FOR", ""))
        asked = QueryDict() if _is_api(request) else request.GET  # which the API reads by its own forms
        if any("\x00" in text for text in named) or _has_nul(asked):
            return self._unreadable(request)
        return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: Any, kwargs: Any
    ) -> HttpResponse | None:
        """Refuse a body that is too long for this view and person, then a form with a NUL in it."""
        most = _most(request, view)
        if _announced(request) > most:
            return self._too_long(request, most)
        if getattr(view, "csrf_exempt", False) or request.content_type not in FORMS:
            return None  # read by the view itself, or nothing that a form would read
        return self._unreadable(request) if request.method == "POST" and _has_nul(request.POST) else None

    def _too_long(self, request: HttpRequest, most: int) -> HttpResponse:
        sentence = _("What was sent is larger than the %(most)d bytes taken here. Nothing of it was kept.")
        return refused(request, 413, "too_large", sentence % {"most": most})

    def _unreadable(self, request: HttpRequest) -> HttpResponse:
        sentence = _("The request holds a character (NUL) that no text can hold. Nothing was changed.")
        return refused(request, 400, "bad_character", sentence)


def refused(request: HttpRequest, status: int, code: str, sentence: str) -> HttpResponse:
    """A sentence on a page, or a problem document (RFC 9457) where a program asked."""
    if _is_api(request):
        kind = f"{settings.BASE_URL}{reverse('api:reference')}#problem-{code}"
        document = {"type": kind, "title": _("Refused"), "status": status}
        problem = {**document, "code": code, "detail": sentence}
        return JsonResponse(problem, status=status, content_type="application/problem+json")
    return render(None, "fleet/errors/unread.html", {"sentence": sentence}, status=status)


def _is_api(request: HttpRequest) -> bool:
    return request.path_info.startswith("/api/")


def _announced(request: HttpRequest) -> int:
    announced = request.META.get("CONTENT_LENGTH") or "0"
    return int(announced) if announced.isascii() and announced.isdigit() and len(announced) < 19 else 0


def _most(request: HttpRequest, view: Callable[..., Any]) -> int:
    """How many bytes the view takes of this person; whether somebody is signed in is asked only where it matters."""
    if (own := getattr(getattr(view, "cls", None), "longest_body", None)) is not None:
        return int(own)
    if _announced(request) <= FORM_MOST or not request.user.is_authenticated:
        return FORM_MOST
    return int(settings.UPLOAD_MAX_BYTES) + FORM_MOST


def _has_nul(values: QueryDict) -> bool:
    return any("\x00" in name or any("\x00" in value for value in given) for name, given in values.lists())
