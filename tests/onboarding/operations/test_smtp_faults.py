"""A mail server on its bad days, at every step of the dialogue, over a bare socket."""

from __future__ import annotations

import socketserver
import threading
from collections.abc import Iterator
from typing import Any, ClassVar

import pytest

from onboarding.models import Delivery
from onboarding.operations import sending
from tests.onboarding.operations.test_sending import fresh, invite

pytestmark = pytest.mark.django_db


class Moody(socketserver.StreamRequestHandler):
    """Answers 250 to everything, but at ``step`` does ``mood``: an answer, ``hang`` (says nothing) or ``drop``."""

    step: ClassVar[str] = ""
    mood: ClassVar[str] = ""
    texts: ClassVar[list[bytes]] = []

    def handle(self) -> None:
        if not self.answer("GREETING", "220 ready"):
            return
        while line := self.rfile.readline():
            word = line[:4].decode("ascii", "replace").strip().upper()
            if word == "QUIT":
                self.wfile.write(b"221 bye\r\n")
                return
            if not self.answer(word, "354 go on" if word == "DATA" else "250 OK"):
                return
            if word == "DATA" and not self.take_text():
                return

    def take_text(self) -> bool:
        if self.step == "DATA" and self.mood[:1].isdigit():
            return True
        text = b""
        while not text.endswith(b"\r\n.\r\n"):
            text += self.rfile.readline()
        self.texts.append(text)
        return self.answer("DOT", "250 taken")

    def answer(self, step: str, usual: str) -> bool:
        if step != self.step:
            self.wfile.write(usual.encode() + b"\r\n")
            return True
        if self.mood == "hang":
            self.server.stopped.wait(10)  # type: ignore[attr-defined]  # the fixture's
        elif self.mood != "drop":
            self.wfile.write(self.mood.encode() + b"\r\n")
            return True
        return False


@pytest.fixture
def moody(settings: Any) -> Iterator[type[Moody]]:
    Moody.texts = []
    with socketserver.ThreadingTCPServer(("127.0.0.1", 0), Moody) as server:
        server.daemon_threads = True
        server.stopped = threading.Event()  # type: ignore[attr-defined]  # read by the handler
        thread = threading.Thread(target=server.serve_forever, args=(0.01,))
        thread.start()
        settings.MAIL_URL = f"smtp://127.0.0.1:{server.server_address[1]}?tls=none"
        settings.MAIL_TIMEOUT = 0.2
        yield Moody
        server.stopped.set()  # type: ignore[attr-defined]  # as above
        server.shutdown()
        thread.join()


@pytest.mark.parametrize(
    ("step", "mood", "state", "reply_class"),
    [
        ("GREETING", "421 4.3.2 not now", "queued", "no_connection"),
        ("GREETING", "554 5.7.1 no service for you", "queued", "no_connection"),
        ("GREETING", "drop", "queued", "no_connection"),
        ("GREETING", "hang", "queued", "no_connection"),
        ("MAIL", "421 4.3.2 closing", "queued", "server_busy"),
        ("MAIL", "550 5.7.1 sender not allowed", "queued", "sender_refused"),
        ("MAIL", "drop", "queued", "connection_lost"),
        ("RCPT", "421 4.3.2 closing", "queued", "server_busy"),
        ("RCPT", "450 4.2.0 greylisted", "queued", "try_later"),
        ("RCPT", "550 5.1.1 no such user", "failed", "no_such_address"),
        ("RCPT", "hang", "queued", "connection_lost"),
        ("RCPT", "drop", "queued", "connection_lost"),
        ("DATA", "451 4.3.0 not now", "queued", "try_later"),
        ("DATA", "554 5.5.1 no valid recipients", "failed", "refused"),
        ("DATA", "drop", "queued", "connection_lost"),
        ("DOT", "421 4.3.2 closing", "queued", "server_busy"),
        ("DOT", "452 4.3.1 disk full", "queued", "mailbox_full"),
        ("DOT", "550 5.7.1 content", "failed", "refused"),
        ("DOT", "drop", "unknown", "no_answer_after_text"),
        ("DOT", "hang", "unknown", "no_answer_after_text"),
        ("DOT", "250 2.0.0 taken", "sent", "accepted"),
    ],
)
def test_what_each_answer_at_each_step_comes_to(moody, step, mood, state, reply_class):
    moody.step, moody.mood = step, mood
    delivery = invite()
    sending.sweep_deliveries()
    delivery = fresh(delivery)
    assert (delivery.state, delivery.reply_class) == (state, reply_class)
    assert len(moody.texts) == (1 if step == "DOT" else 0)


def test_an_unknown_mail_is_never_sent_again_by_itself(moody):
    moody.step, moody.mood = "DOT", "drop"
    invite()
    sending.sweep_deliveries()
    moody.step = ""
    sending.sweep_deliveries()
    assert len(moody.texts) == 1
    assert Delivery.objects.get().state == "unknown"


def test_a_sender_told_to_stop_does_not_wait_for_a_server_that_says_nothing(moody, settings):
    settings.MAIL_TIMEOUT = 30  # far longer than the server hangs
    moody.step, moody.mood = "DOT", "hang"
    deliveries = [invite(), invite()]
    sending.sweep_deliveries(told_to_stop=lambda: bool(moody.texts))
    left, back = sorted((fresh(one) for one in deliveries), key=lambda one: one.state, reverse=True)
    assert (left.state, left.reply_class) == ("unknown", "sender_stopped")
    assert (back.state, back.attempts) == ("queued", 0)


def test_a_sender_told_to_stop_hears_the_answer_that_comes(moody):
    moody.step = ""
    deliveries = [invite() for _ in range(6)]
    sending.sweep_deliveries(told_to_stop=lambda: bool(moody.texts))
    states = [fresh(one).state for one in deliveries]
    assert states.count("sent") == len(moody.texts) >= 1
    assert set(states) <= {"sent", "queued"}


def test_a_line_that_begins_with_a_dot_is_doubled(moody):
    """RFC 5321 section 4.5.2."""
    from onboarding.mail.smtp import _DOTS

    assert _DOTS.sub(b"..", b"a\r\n.\r\n.b\r\n") == b"a\r\n..\r\n..b\r\n"
    invite()
    sending.sweep_deliveries()
    (text,) = moody.texts
    assert text.endswith(b"--\r\n.\r\n")
