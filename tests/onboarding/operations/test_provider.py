"""Sending through a provider: by anymail's own test backend, and by a real backend to an HTTP server on loopback."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import pytest
from anymail.backends.test import EmailBackend
from anymail.exceptions import AnymailAPIError, AnymailRecipientsRefused, AnymailSerializationError
from anymail.message import AnymailRecipientStatus
from django.utils import timezone

from onboarding.models import ConsentStanding, DeliveryState, InvitationState, MailDomain, Suppression
from onboarding.operations import sending
from onboarding.operations.outcomes import permit
from tests.onboarding.operations.test_sending import fresh, invite
from tests.servers.process import free_port

pytestmark = pytest.mark.django_db

Answer = Callable[[Any], None]


@pytest.fixture
def outbox(settings: Any, mailoutbox: list[Any]) -> list[Any]:
    settings.MAIL_URL = "anymail://test"
    return mailoutbox


def answering(monkeypatch: pytest.MonkeyPatch, answer: Callable[[Any], Any]) -> None:
    """The test backend answers by ``answer(message)``, which returns anymail's response or raises."""
    taken = EmailBackend.post_to_esp

    def post_to_esp(backend: Any, payload: Any, message: Any) -> Any:
        taken(backend, payload, message)
        return answer(message)

    monkeypatch.setattr(EmailBackend, "post_to_esp", post_to_esp)


def states(status: str) -> Callable[[Any], Any]:
    return lambda message: {"recipient_status": {message.to[0]: AnymailRecipientStatus("id-7", status)}}


def failing(error: Exception) -> Callable[[Any], Any]:
    def fail(message: Any) -> Any:
        raise error

    return fail


def test_an_invitation_is_handed_over_once_with_all_that_a_mail_carries(outbox):
    delivery = invite(email="ines@example.net")
    sending.sweep_deliveries()
    sending.sweep_deliveries()
    (message,) = outbox
    delivery = fresh(delivery)
    assert (delivery.state, delivery.reply_class, delivery.attempts) == ("sent", "accepted", 1)
    assert delivery.invitation.state == InvitationState.SENT
    given = message.anymail_test_params
    assert given["metadata"] == {"return": delivery.return_token}
    assert given["envelope_sender"] == f"rooftally+{delivery.return_token}@example.org"
    headers = given["extra_headers"]
    assert headers["Message-ID"] == delivery.message_id
    assert headers["List-Unsubscribe-Post"] == "List-Unsubscribe=One-Click"
    assert headers["Auto-Submitted"] == "auto-generated"
    assert "/welcome/" in given["text_body"]
    assert "/welcome/" in given["html_body"]


def test_the_providers_own_name_of_the_mail_is_kept(outbox, monkeypatch):
    answering(monkeypatch, states("queued"))
    delivery = invite()
    sending.sweep_deliveries()
    assert (fresh(delivery).state, fresh(delivery).provider_id) == ("sent", "id-7")


def test_leave_is_given_before_the_one_request(outbox, monkeypatch):
    """The row says *transmitting* before anything is handed over: a lost sender leaves it unknown, not sent again."""
    given: list[str] = []

    def noted(claimed: Any) -> bool:
        won = permit(claimed)
        given.append(f"leave {won} with {len(outbox)} handed over, {fresh(claimed.delivery).state}")
        return won

    monkeypatch.setattr(sending, "permit", noted)
    invite()
    sending.sweep_deliveries()
    assert given == ["leave True with 0 handed over, transmitting"]
    assert len(outbox) == 1


def test_withdrawn_before_the_request_nothing_is_handed_over(outbox, monkeypatch):
    def withdrawn_first(claimed: Any) -> bool:
        ConsentStanding.objects.update(state="withdrawn")
        return permit(claimed)

    monkeypatch.setattr(sending, "permit", withdrawn_first)
    delivery = invite()
    sending.sweep_deliveries()
    assert fresh(delivery).state == DeliveryState.STOPPED
    assert outbox == []


@pytest.mark.parametrize(
    ("answer", "state", "reply_class", "attempts"),
    [
        (states("sent"), "sent", "accepted", 1),
        (states("queued"), "sent", "accepted", 1),
        (states("rejected"), "failed", "refused", 1),
        (states("invalid"), "failed", "refused", 1),
        (states("failed"), "failed", "refused", 1),
        (failing(AnymailRecipientsRefused("nobody there")), "failed", "refused", 1),
        (failing(AnymailAPIError("busy", status_code=429)), "queued", "server_busy", 0),
        (failing(AnymailAPIError("busy", status_code=503)), "queued", "server_busy", 0),
        (failing(AnymailAPIError("no key", status_code=401)), "queued", "sender_refused", 0),
        (failing(AnymailAPIError("not yours", status_code=403)), "queued", "sender_refused", 0),
        (failing(AnymailAPIError("bad", status_code=422)), "failed", "refused", 1),
        (failing(AnymailAPIError("broken", status_code=500)), "unknown", "no_answer_after_text", 1),
        (failing(AnymailAPIError("broken", status_code=502)), "unknown", "no_answer_after_text", 1),
        (failing(AnymailAPIError("no answer")), "unknown", "no_answer_after_text", 1),
        (failing(TimeoutError()), "unknown", "no_answer_after_text", 1),
        (failing(AnymailSerializationError("cannot be written")), "queued", "not_composed", 1),
    ],
)
def test_what_an_answer_means(outbox, monkeypatch, answer, state, reply_class, attempts):
    answering(monkeypatch, answer)
    delivery = invite()
    sending.sweep_deliveries()
    delivery = fresh(delivery)
    assert (delivery.state, delivery.reply_class, delivery.attempts) == (state, reply_class, attempts)
    assert not Suppression.objects.exists()  # no enhanced status, no lasting verdict on the address
    sending.sweep_deliveries()
    assert len(outbox) == 1  # nothing is handed over again at once, and what is unknown never


def test_a_busy_provider_holds_every_mail_back(outbox, monkeypatch):
    answering(monkeypatch, failing(AnymailAPIError("busy", status_code=429)))
    deliveries = [invite(), invite()]
    sending.sweep_deliveries()
    assert MailDomain.objects.get(domain="").paused_until > timezone.now()
    assert {fresh(one).state for one in deliveries} == {"queued"}
    assert sending.sweep_deliveries() is False


def test_an_address_that_needs_smtputf8_is_held(outbox):
    delivery = invite(email="inês@example.net")
    sending.sweep_deliveries()
    assert (fresh(delivery).state, fresh(delivery).reply_class) == ("stopped", "needs_smtputf8")
    assert outbox == []


def test_a_provider_that_is_not_set_up_holds_mail_back(settings):
    settings.MAIL_URL = "anymail://postmark"  # no token
    delivery = invite()
    sending.sweep_deliveries()
    assert (fresh(delivery).state, fresh(delivery).reply_class) == ("queued", "sender_refused")


class Desk(ThreadingHTTPServer):
    """A provider's counter on loopback: counts requests and answers by ``status`` and ``body``, or by silence."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Clerk)
        self.status, self.body = 200, b""
        self.taken: list[dict[str, Any]] = []
        self.closing = threading.Event()


class _Clerk(BaseHTTPRequestHandler):
    server: Desk

    def do_POST(self) -> None:  # the name is http.server's
        self.server.taken.append(json.loads(self.rfile.read(int(self.headers["Content-Length"]))))
        if self.server.status == 0:
            self.server.closing.wait(20)
            return
        self.send_response(self.server.status)
        self.send_header("Content-Length", str(len(self.server.body)))
        self.end_headers()
        self.wfile.write(self.server.body)

    def log_message(self, *arguments: Any) -> None:
        """Quiet."""


@pytest.fixture
def desk(settings: Any) -> Iterator[Desk]:
    with Desk() as server:
        thread = threading.Thread(target=server.serve_forever, args=(0.01,))
        thread.start()
        url = f"http://127.0.0.1:{server.server_address[1]}/"
        settings.MAIL_URL = f"anymail://postmark?server_token=x&api_url={url}"
        settings.MAIL_TIMEOUT = 0.5
        yield server
        server.closing.set()
        server.shutdown()
        thread.join()


ACCEPTED = b'{"ErrorCode": 0, "Message": "OK", "MessageID": "m-1", "To": "ines@example.net"}'


@pytest.mark.parametrize(
    ("status", "body", "state", "reply_class"),
    [
        (200, ACCEPTED, "sent", "accepted"),
        (200, b"not JSON", "unknown", "no_answer_after_text"),
        (500, b"{}", "unknown", "no_answer_after_text"),
        (503, b"{}", "queued", "server_busy"),
        (401, b'{"ErrorCode": 10, "Message": "no such token"}', "queued", "sender_refused"),
        (0, b"", "unknown", "no_answer_after_text"),  # it took the request and says nothing
    ],
)
def test_what_an_answer_over_http_means(desk, status, body, state, reply_class):
    desk.status, desk.body = status, body
    delivery = invite(email="ines@example.net")
    sending.sweep_deliveries()
    delivery = fresh(delivery)
    assert (delivery.state, delivery.reply_class) == (state, reply_class)
    (taken,) = desk.taken
    assert taken["Metadata"] == {"return": delivery.return_token}
    assert delivery.provider_id == ("m-1" if state == "sent" else "")


def test_a_provider_that_nobody_reaches_costs_no_attempt(settings):
    settings.MAIL_URL = f"anymail://postmark?server_token=x&api_url=http://127.0.0.1:{free_port()}/"
    delivery = invite()
    sending.sweep_deliveries()
    delivery = fresh(delivery)
    assert (delivery.state, delivery.attempts, delivery.reply_class) == ("queued", 0, "no_connection")
