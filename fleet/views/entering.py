"""Coming in by a mailed link: a session like any other, on the person's list and ended with the others."""

from collections.abc import Iterable

from allauth.core import context
from allauth.usersessions.adapter import DefaultUserSessionsAdapter
from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib.auth import login, update_session_auth_hash
from django.http import HttpRequest, HttpResponseBase

from fleet.known_devices import remember
from fleet.models import User
from fleet.operations.sessions import end_sessions


def enter(request: HttpRequest, user: User) -> None:
    """Sign ``user`` in, or give the session of who is signed in already a new key; either way it is listed."""
    if request.user.is_authenticated:
        UserSession.objects.filter(session_key=request.session.session_key).delete()
        request.session.cycle_key()
    else:
        login(request, user, backend=settings.AUTHENTICATION_BACKENDS[0])
    UserSession.objects.create_from_request(request)


def entered(request: HttpRequest, response: HttpResponseBase) -> None:
    """The browser that gets ``response`` is known from now on to whom it signed in."""
    remember(request, response, str(request.user.pk))


class SessionsAdapter(DefaultUserSessionsAdapter):  # type: ignore[misc]  # allauth ships no types
    """*Sign out elsewhere* ends what is on no list too."""

    def end_sessions(self, sessions: Iterable[UserSession]) -> None:
        """End all of the person's sessions but the one that asks."""
        request: HttpRequest = context.request
        user = request.user
        if not isinstance(user, User):
            return
        end_sessions(user)
        update_session_auth_hash(request, user)
        UserSession.objects.create_from_request(request)
