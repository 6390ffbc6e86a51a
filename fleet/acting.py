"""The acting membership of a request, and where the request came from.

A user may be a member of several companies and an owner besides; every staff request acts for exactly one membership.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import cast

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse

from fleet.models import Member, User

SESSION_KEY = "acting_member"
_origin: ContextVar[str] = ContextVar("origin", default="")


class ActingMemberMiddleware:
    """Puts ``request.memberships`` and ``request.member`` (a Member or None) on every request.

    Remembers the request's origin for audit entries.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        """Answer ``request`` with its acting member known."""
        with origin(client_address(request)):
            memberships = active_memberships(request.user) if request.user.is_authenticated else []
            request.memberships = memberships  # type: ignore[attr-defined]  # our own attribute on Django's class
            request.member = _session_member(request, memberships)  # type: ignore[attr-defined]  # likewise
            return self.get_response(request)


def client_address(request: HttpRequest) -> str:
    """The address of the client; the proxy's word is taken only where ROOFTALLY_BEHIND_PROXY says so."""
    if settings.BEHIND_PROXY and (forwarded := request.META.get("HTTP_X_FORWARDED_FOR")):
        return str(forwarded).rsplit(",", 1)[-1].strip()[:64]
    return str(request.META.get("REMOTE_ADDR", ""))[:64]


@contextmanager
def origin(name: str) -> Iterator[None]:
    """Acts within this block are recorded as coming from ``name`` (an IP address, a command, a job)."""
    token = _origin.set(name)
    try:
        yield
    finally:
        _origin.reset(token)


def current_origin() -> str:
    """Where the current act comes from, for its audit entry; empty when unknown."""
    return _origin.get()


def active_memberships(user: User) -> list[Member]:
    """The memberships that ``user`` can act for, by company name."""
    return list(
        Member.objects.filter(user=user, active=True)
        .select_related("company", "company__policy")
        .order_by("company__name")
    )


def acting_member(request: HttpRequest) -> Member:
    """The membership this request acts for; an outsider gets 404."""
    member = cast("Member | None", getattr(request, "member", None))
    if member is None:
        raise Http404
    return member


def _session_member(request: HttpRequest, memberships: list[Member]) -> Member | None:
    if not memberships:
        return None
    chosen = request.session.get(SESSION_KEY)
    for member in memberships:
        if str(member.public_id) == chosen:
            return member
    return memberships[0]
