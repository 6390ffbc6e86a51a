"""The mark by which a browser that signed in before is known again: its own count of wrong passwords, nothing more.

Strangers who try passwords use up the tries of an account; whoever signed in from a device before is not to be locked
out by them, so the device's tries are counted apart.
"""

import secrets

from django.conf import settings
from django.core.signing import BadSignature, SignatureExpired
from django.http import HttpRequest, HttpResponseBase

COOKIE = "rooftally_device"
SALT = "fleet.known_devices"
LASTS = 60 * 60 * 24 * 180
MOST_ACCOUNTS = 5
_BETWEEN = "."


def remember(request: HttpRequest, response: HttpResponseBase, account: str) -> None:
    """This browser has signed in to ``account`` (the user's id) all the way."""
    name, accounts = _kept(request)
    accounts = [account, *(each for each in accounts if each != account)][:MOST_ACCOUNTS]
    response.set_signed_cookie(
        COOKIE,
        _BETWEEN.join([name or secrets.token_urlsafe(12), *accounts]),
        salt=SALT,
        max_age=LASTS,
        secure=settings.HTTPS,
        httponly=True,
        samesite="Lax",
    )


def known_device(request: HttpRequest, account: str) -> str:
    """The name of this browser where it has signed in to ``account`` before; empty where it has not."""
    name, accounts = _kept(request)
    return name if account in accounts else ""


def _kept(request: HttpRequest) -> tuple[str, list[str]]:
    try:
        text = str(request.get_signed_cookie(COOKIE, default="", salt=SALT, max_age=LASTS))
    except (BadSignature, SignatureExpired):
        return "", []
    name, *accounts = text.split(_BETWEEN)
    return name, accounts
