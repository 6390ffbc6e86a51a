"""Ending a person's sessions."""

from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session

from fleet.models import User


def end_sessions(user: User, *, but: str | None = None) -> int:
    """End every session of ``user``, except the one with key ``but``; the number ended."""
    keys = list(UserSession.objects.filter(user=user).exclude(session_key=but).values_list("session_key", flat=True))
    Session.objects.filter(session_key__in=keys).delete()
    UserSession.objects.filter(user=user, session_key__in=keys).delete()
    return len(keys)
