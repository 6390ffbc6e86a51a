"""Pages for requests that could not be served."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render


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
    """A fault of ours. Nothing that may be the fault itself is touched: no database, no session."""
    return render(None, "fleet/errors/failed.html", status=500)
