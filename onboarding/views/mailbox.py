"""The demo's mailbox: what would have left by mail. It is there in the demo alone."""

from csp.decorators import csp_update
from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from onboarding.mail.mailbox import KeptLetter, kept_letter, kept_letters
from onboarding.mail.outgoing import mailbox_folder


@require_safe
@never_cache
def mailbox(request: HttpRequest) -> HttpResponse:
    """The latest letters."""
    _demo_only()
    return render(request, "onboarding/mailbox.html", {"letters": kept_letters(mailbox_folder())})


@require_safe
@never_cache
def mailbox_letter(request: HttpRequest, name: str) -> HttpResponse:
    """One letter's text and headers."""
    return render(request, "onboarding/mailbox_letter.html", {"letter": _letter(name)})


@require_safe
@never_cache
@csp_update({"style-src": ["'unsafe-inline'"]})  # type: ignore[arg-type]  # its types know no view with arguments
def mailbox_html(request: HttpRequest, name: str) -> HttpResponse:
    """One letter's HTML part by itself, as a mail program shows it; mails carry their style inline."""
    return HttpResponse(_letter(name).html)


def _letter(name: str) -> KeptLetter:
    _demo_only()
    letter = kept_letter(mailbox_folder(), name)
    if letter is None:
        raise Http404
    return letter


def _demo_only() -> None:
    if not settings.DEMO:
        raise Http404
