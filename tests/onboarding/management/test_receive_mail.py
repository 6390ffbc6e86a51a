"""The port of our own for reports: it takes what is for us, relays nothing, and keeps to its limits."""

from __future__ import annotations

import asyncio
import contextlib
import smtplib
import socket
import threading
from collections.abc import Iterator
from typing import Any

import pytest
from aiosmtpd.lmtp import LMTP
from aiosmtpd.smtp import SMTP
from django.core.management import CommandError, call_command, load_command_class
from django.db import connections

from onboarding.mail.reports import LARGEST
from onboarding.management.commands.receive_mail import Command
from onboarding.models import Delivery, Invitation, MailReport
from tests.factories import make_invitation, make_member, make_owner, make_site
from tests.onboarding.mail.test_reports import TOKEN, dsn
from tests.servers.process import answers, free_port

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]

OURS = f"rooftally+{TOKEN}@example.org"
FAILED = dsn("Final-Recipient: rfc822; ines@example.net\nAction: failed\nStatus: 5.1.1\n")


@pytest.fixture(params=["LMTP", "SMTP"])
def client(request: pytest.FixtureRequest) -> type[smtplib.SMTP]:
    """What speaks to the port."""
    return smtplib.LMTP if request.param == "LMTP" else smtplib.SMTP


@pytest.fixture
def port(client: type[smtplib.SMTP]) -> Iterator[int]:
    """The command's own server in a thread, in the client's language."""
    command: Any = load_command_class("onboarding", "receive_mail")
    language = LMTP if client is smtplib.LMTP else SMTP
    number, loop = free_port(), asyncio.new_event_loop()
    loop.add_signal_handler = lambda *_arguments: None  # type: ignore[method-assign]  # threads get no signals
    task = loop.create_task(command._serve("127.0.0.1", number, language))

    def serve() -> None:
        with contextlib.suppress(asyncio.CancelledError):
            loop.run_until_complete(task)

    thread = threading.Thread(target=serve)
    thread.start()
    while not answers(number):
        thread.join(0.02)
    yield number
    loop.call_soon_threadsafe(task.cancel)
    thread.join()
    loop.run_until_complete(loop.shutdown_default_executor())
    loop.close()
    connections.close_all()


def test_a_report_to_our_return_address_is_taken_in(port, client):
    actor = make_member()
    site = make_site(actor)
    make_invitation(actor, site, make_owner(actor, site, email="ines@example.net"))
    Delivery.objects.update(return_token=TOKEN)
    with client("127.0.0.1", port) as line:
        line.sendmail("", [OURS], FAILED.replace(b"bounces+", b"elsewhere+").replace(TOKEN.encode(), b"0"))
    assert Invitation.objects.get().state == "bounced"
    assert MailReport.objects.get().kind == "dsn"


@pytest.mark.parametrize(
    "address", ["someone@example.com", "rooftally+short@example.org", f"rooftally+{TOKEN}@example.com", "postmaster"]
)
def test_nothing_is_relayed(port, client, address):
    with client("127.0.0.1", port) as line:
        line.ehlo_or_helo_if_needed()
        line.mail("a@example.com")
        code, _text = line.rcpt(address)
        assert code in {501, 550, 553}
        assert line.docmd("DATA")[0] == 503  # there is no recipient
    assert not MailReport.objects.exists()


def test_what_is_too_large_is_refused(port, client):
    with client("127.0.0.1", port) as line:
        line.ehlo_or_helo_if_needed()
        assert line.esmtp_features["size"] == str(LARGEST)
        del line.esmtp_features["size"]  # a sender that does not say the size beforehand
        with pytest.raises(smtplib.SMTPDataError):
            line.sendmail("a@example.com", [OURS], b"x" * 80 + b"\r\n" + b"words\r\n" * (LARGEST // 7 + 1))
        assert line.mail("a@example.com", [f"SIZE={LARGEST + 1}"])[0] == 552
    assert not MailReport.objects.exists()


def test_noise_does_not_stop_the_port(port, client):
    with socket.create_connection(("127.0.0.1", port), timeout=5) as line:
        line.sendall(b"\x16\x03\x01\x00\xff" * 200 + b"\r\n" + b"A" * 9000 + b"\r\n")
    with client("127.0.0.1", port) as line:
        line.sendmail("", [OURS], b"\xff\xfe\x00 not a mail at all")
    assert MailReport.objects.get().kind == "other"


@pytest.mark.parametrize("client", [smtplib.LMTP])
def test_lmtp_answers_once_for_each_recipient(port, client):
    """RFC 2033 section 4.2: a sender waits for as many answers."""
    with client("127.0.0.1", port) as line:
        line.ehlo_or_helo_if_needed()
        line.mail("")
        assert [line.rcpt(address)[0] for address in (OURS, "rooftally@example.org")] == [250, 250]
        assert line.data(FAILED)[0] == 250
        assert line.getreply() == (250, b"2.0.0 Taken in")
        assert line.noop()[0] == 250  # and no more than that: the conversation is in step
    assert MailReport.objects.count() == 1


@pytest.mark.parametrize("client", [smtplib.LMTP])
def test_lmtp_takes_no_greeting_of_smtp(port, client):
    with client("127.0.0.1", port) as line:
        assert [line.docmd(word, "host.example")[0] for word in ("HELO", "EHLO", "LHLO")] == [500, 500, 250]


def test_it_is_off_unless_started_and_on_loopback_unless_told(monkeypatch):
    opened: list[tuple[Any, ...]] = []

    async def noted(_command: Command, *asked: Any) -> None:
        opened.append(asked)

    monkeypatch.setattr(Command, "_serve", noted)
    with pytest.raises(CommandError, match="--port"):
        call_command("receive_mail")
    call_command("receive_mail", "--port", "2524")
    call_command("receive_mail", "--port", "2525", "--smtp", "--host", "192.0.2.1")
    assert opened == [("127.0.0.1", 2524, LMTP), ("192.0.2.1", 2525, SMTP)]
