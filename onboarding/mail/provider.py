"""Mail providers by way of django-anymail: ``anymail://mailgun?api_key=…&sender_domain=…``.

A provider's interface has no step between recipient and text: permission is checked right before the one request. A
request that may have arrived and was not clearly answered leaves the mail *unknown*, as after a final dot; what never
reached the provider, and what it clearly refused, is clean. Whether the recipient's server took the mail is known only
from the provider's reports.
"""

from dataclasses import dataclass
from typing import Any

import requests
from anymail.exceptions import AnymailAPIError, AnymailConfigurationError, AnymailError, AnymailRecipientsRefused
from anymail.message import AnymailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.utils.module_loading import import_string
from urllib3.exceptions import NewConnectionError

from onboarding.mail.letter import Letter
from onboarding.mail.replies import Reply
from onboarding.mail.transport import Fate, MailUrl, NotPrepared, Outcome

_REFUSED = frozenset({"rejected", "invalid", "failed"})
_BUSY = frozenset({408, 425, 429, 503})
_NOT_LET_IN = frozenset({401, 402, 403, 404})


@dataclass(frozen=True)
class ProviderTransport:
    """``backend`` is the dotted path of an anymail backend, ``options`` its own keyword settings."""

    backend: str
    options: dict[str, str]
    timeout: float

    def channel(self) -> "ProviderChannel":
        """A channel whose HTTP session opens when first needed."""
        return ProviderChannel(self)


def provider_transport(url: MailUrl, *, timeout: float) -> ProviderTransport:
    """The transport for the provider that stands as the URL's host."""
    return ProviderTransport(f"anymail.backends.{url.host}.EmailBackend", url.options, timeout)


class ProviderChannel:
    """One HTTP session with a provider."""

    def __init__(self, provider: ProviderTransport) -> None:
        self._provider = provider
        self._backend: BaseEmailBackend | None = None

    def prepare(self, letter: Letter) -> None:
        """Make the backend ready; a provider gives no earlier word on the recipient."""
        if letter.needs_smtputf8:
            raise NotPrepared(Outcome(Fate.CANNOT, "needs_smtputf8"))
        if self._backend is not None:
            return
        try:
            backend = import_string(self._provider.backend)(
                fail_silently=False,
                ignore_unsupported_features=True,
                timeout=self._provider.timeout,
                **self._provider.options,
            )
            backend.open()
        except Exception as error:
            raise NotPrepared(Outcome(Fate.LATER, "sender_refused", about_server=True)) from error
        self._backend = backend

    def transmit(self, letter: Letter) -> Outcome:
        """One request. Whatever is not a clear answer is unknown."""
        if self._backend is None:
            return Outcome(Fate.LATER, "no_connection")
        message = _message(letter)
        try:
            self._backend.send_messages([message])
        except AnymailAPIError as error:
            return _from_error(error)
        except AnymailRecipientsRefused:
            return Outcome(Fate.REFUSED, "refused")
        except AnymailConfigurationError:
            return Outcome(Fate.LATER, "sender_refused", about_server=True)
        except AnymailError:
            return Outcome(Fate.LATER, "not_composed")  # refused by anymail itself, before any request
        except Exception:
            return Outcome(Fate.UNKNOWN, "no_answer_after_text")
        return _from_recipients(message)

    def abandon(self) -> None:
        """Nothing had left."""

    def close(self) -> None:
        """Close the HTTP session."""
        backend, self._backend = self._backend, None
        if backend is not None:
            backend.close()


def _message(letter: Letter) -> AnymailMessage:
    message = AnymailMessage(
        subject=letter.subject,
        body=letter.text,
        from_email=str(letter.as_message()["From"]),
        to=[letter.to.on_the_wire],
        reply_to=[letter.reply_to] if letter.reply_to else None,
        headers={"Message-ID": letter.message_id, **letter.headers()},
    )
    message.attach_alternative(letter.html, "text/html")
    message.envelope_sender = letter.return_path
    message.metadata = {"return": letter.return_path.rpartition("@")[0].rpartition("+")[2]}
    return message


def _from_error(error: AnymailAPIError) -> Outcome:
    if _never_arrived(error):
        return Outcome(Fate.LATER, "no_connection", about_server=True)
    status = error.status_code or 0
    reply = Reply(status) if status else None
    if status in _BUSY:
        return Outcome(Fate.LATER, "server_busy", reply, about_server=True)
    if status in _NOT_LET_IN:
        return Outcome(Fate.LATER, "sender_refused", reply, about_server=True)
    if 400 <= status < 500:
        return Outcome(Fate.REFUSED, "refused", reply)
    return Outcome(Fate.UNKNOWN, "no_answer_after_text", reply)


def _never_arrived(error: AnymailAPIError) -> bool:
    """Whether no connection was made, so that not a byte of the request left."""
    if isinstance(error, requests.ConnectTimeout):
        return True
    cause = error.__cause__
    if not isinstance(cause, requests.ConnectionError) or not cause.args:
        return False
    return isinstance(getattr(cause.args[0], "reason", None), NewConnectionError)


def _from_recipients(message: Any) -> Outcome:
    status = message.anymail_status
    if not status.status:
        return Outcome(Fate.UNKNOWN, "no_answer_after_text")
    if status.status & _REFUSED:
        return Outcome(Fate.REFUSED, "refused")
    return Outcome(Fate.SENT, "accepted", provider_id=str(status.message_id or "")[:200])
