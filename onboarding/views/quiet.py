"""Answers that carry secrets in their address: kept nowhere, told to nobody, indexed by nobody."""

from collections.abc import Callable
from functools import wraps
from typing import Concatenate, ParamSpec

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import translation
from django.utils.translation import gettext as _

from fleet.acting import client_address
from onboarding.limits import within

P = ParamSpec("P")
TRIES = 30
TRIES_WITHIN = 600


def secret_page(
    view: Callable[Concatenate[HttpRequest, P], HttpResponse],
) -> Callable[Concatenate[HttpRequest, P], HttpResponse]:
    """The page's address is a secret: no cache, no referrer, no index, and no log line with the address in it."""

    @wraps(view)
    def guarded(request: HttpRequest, /, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
        response = view(request, *args, **kwargs)
        response.headers["Cache-Control"] = "no-store"
        # The last policy that a browser knows counts. "no-referrer" alone makes it send "Origin: null" with our own
        # forms, which the check against forged requests rightly refuses; "strict-origin" never names the path either.
        response.headers["Referrer-Policy"] = "no-referrer, strict-origin"
        response.headers["X-Robots-Tag"] = "noindex, nofollow"
        response._has_been_logged = True  # type: ignore[attr-defined]  # Django would log the path of a 4xx
        return response

    return guarded


def in_language(response: HttpResponse) -> HttpResponse:
    """``response``, saying the language that is spoken now, not the one that the browser asked for."""
    response.headers["Content-Language"] = translation.get_language() or ""
    return response


def guessing(request: HttpRequest) -> bool:
    """Count one wrong link of this client; True once it tried too many."""
    return not within("wrong-link", client_address(request), most=TRIES, seconds=TRIES_WITHIN)


def blocked(request: HttpRequest) -> HttpResponse:
    """Too many wrong links from here: no more of them is looked at for a while."""
    sentence = _("Too many wrong links were tried from here. Nothing was changed; wait ten minutes, then try again.")
    context = {"heading": _("Too many tries"), "sentence": sentence}
    response = render(request, "onboarding/owner/over.html", context, status=429)
    response.headers["Retry-After"] = str(TRIES_WITHIN)
    return response
