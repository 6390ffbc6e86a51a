"""Ending a person's sessions, whether they are listed or not."""

from allauth.usersessions.models import UserSession
from django.contrib.sessions.models import Session
from django.db.models import F

from fleet.models import User


def end_sessions(user: User) -> int:
    """End every session of ``user``, wherever it was made; the number of listed ones that ended.

    What a session carries of its user no longer fits from now on, so that one on no list ends too.
    """
    User.objects.filter(pk=user.pk).update(session_generation=F("session_generation") + 1)
    user.refresh_from_db(fields=["session_generation"])
    keys = list(UserSession.objects.filter(user=user).values_list("session_key", flat=True))
    Session.objects.filter(session_key__in=keys).delete()
    UserSession.objects.filter(user=user, session_key__in=keys).delete()
    return len(keys)
