"""Pages for requests that could not be served."""

import sys

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from fleet.full_disk import is_full
from fleet.operations.refusals import Unable


def csrf_failed(request: HttpRequest, reason: str = "") -> HttpResponse:
    """The form was stale or came from elsewhere: nothing was changed."""
    return render(request, "fleet/errors/csrf.html", status=403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """No such page for this person."""
    return render(request, "fleet/errors/not_found.html", status=404)


def refused(request: HttpRequest, exception: Exception) -> HttpResponse:
    """The person may see it but not do it; an exception's own sentence says more."""
    return render(request, "fleet/errors/refused.html", {"sentence": str(exception)}, status=403)


def failed(request: HttpRequest) -> HttpResponse:
    """A fault of ours, or something that this installation cannot do now.

    Nothing that may be the fault itself is touched: no database, no session.
    """
    error = sys.exc_info()[1]  # Django calls this while it handles the exception
    if isinstance(error, Unable):
        return _unable(str(error.sentence), error.status)
    if is_full(error):
        return _unable(_("There is no room left on the disk. Nothing of what you sent was saved."), 507)
    return render(None, "fleet/errors/failed.html", status=500)


def _unable(sentence: str, status: int) -> HttpResponse:
    return render(None, "fleet/errors/unable.html", {"sentence": sentence}, status=status)
