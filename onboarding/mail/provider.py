"""Mail providers by way of django-anymail: ``anymail://mailgun?api_key=…&sender_domain=…``.

A provider's interface has no step between recipient and text: permission is checked right before the one request. A
request that ends without an answer leaves the mail *unknown*, as after a final dot; a provider's refusal is clean.
"""

from dataclasses import dataclass
from typing import Any

from anymail.exceptions import AnymailAPIError, AnymailError
from anymail.message import AnymailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.utils.module_loading import import_string

from onboarding.mail.letter import Letter
from onboarding.mail.replies import Reply
from onboarding.mail.transport import Fate, MailUrl, NotPrepared, Outcome

_REFUSED = frozenset({"rejected", "invalid", "failed"})


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
        if self._backend is None:
            try:
                self._backend = import_string(self._provider.backend)(
                    fail_silently=False, ignore_unsupported_features=True, **self._provider.options
                )
                self._backend.open()
            except Exception as error:
                raise NotPrepared(Outcome(Fate.LATER, "sender_refused", about_server=True)) from error

    def transmit(self, letter: Letter) -> Outcome:
        """One request. Whatever is not a clear answer is unknown."""
        message = _message(letter, self._provider.timeout)
        try:
            if self._backend is None:
                return Outcome(Fate.LATER, "no_connection")
            self._backend.send_messages([message])
        except AnymailAPIError as error:
            return _from_status(getattr(error, "status_code", None) or 0)
        except AnymailError:
            return Outcome(Fate.REFUSED, "refused")
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


def _message(letter: Letter, timeout: float) -> AnymailMessage:
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


def _from_status(status: int) -> Outcome:
    reply = Reply(status) if status else None
    if status == 429 or status == 503:
        return Outcome(Fate.LATER, "server_busy", reply)
    if status in {401, 403}:
        return Outcome(Fate.LATER, "sender_refused", reply)
    if 400 <= status < 500:
        return Outcome(Fate.REFUSED, "refused", reply)
    return Outcome(Fate.UNKNOWN, "no_answer_after_text", reply)


def _from_recipients(message: Any) -> Outcome:
    states = set(message.anymail_status.status or ())
    if states & _REFUSED:
        return Outcome(Fate.REFUSED, "refused")
    return Outcome(Fate.SENT, "accepted")
