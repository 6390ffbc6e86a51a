"""A mail provider's reports by webhook, read by django-anymail. There only for the provider of the settings, and only
with a secret.
"""

from importlib import import_module
from typing import Any

from anymail.webhooks.base import AnymailBaseWebhookView
from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponseBase
from django.views.decorators.csrf import csrf_exempt

from onboarding.mail.transport import read_mail_url
from onboarding.operations.provider_events import take_provider_event


class _Intake:
    """Stands where anymail would send a signal, so that an event is one call."""

    def send(self, *, sender: Any, event: Any, esp_name: str) -> None:
        take_provider_event(esp_name, event)


@csrf_exempt
def mail_hook(request: HttpRequest, provider: str) -> HttpResponseBase:
    """Hand the request to anymail's view of the provider; it checks the secret and the provider's own signature."""
    url = read_mail_url(settings.MAIL_URL)
    if url.scheme != "anymail" or url.host != provider or not settings.MAIL_HOOK_SECRET:
        raise Http404
    view = _tracking_view(provider)
    answer: HttpResponseBase = view.as_view(webhook_secret=settings.MAIL_HOOK_SECRET)(request)
    return answer


def _tracking_view(provider: str) -> Any:
    module = import_module(f"anymail.webhooks.{provider}")
    for found in vars(module).values():
        if isinstance(found, type) and issubclass(found, AnymailBaseWebhookView) and "Tracking" in found.__name__:
            return type(found.__name__, (found,), {"signal": _Intake(), "webhook_secret": None})
    raise Http404
