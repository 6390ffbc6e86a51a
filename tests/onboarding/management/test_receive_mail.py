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
from django.core.management import load_command_class
from django.db import connections

from onboarding.models import Delivery, Invitation, MailReport
from tests.factories import make_invitation, make_member, make_owner, make_site
from tests.onboarding.mail.test_reports import TOKEN, dsn
from tests.servers.process import answers, free_port

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]

OURS = f"rooftally+{TOKEN}@example.org"
FAILED = dsn("Final-Recipient: rfc822; ines@example.net\nAction: failed\nStatus: 5.1.1\n")


@pytest.fixture
def port() -> Iterator[int]:
    """The command's own server in a thread, spoken to over SMTP."""
    from aiosmtpd.smtp import SMTP

    command: Any = load_command_class("onboarding", "receive_mail")
    number, loop = free_port(), asyncio.new_event_loop()
    loop.add_signal_handler = lambda *_arguments: None  # type: ignore[method-assign]  # threads get no signals
    task = loop.create_task(command._serve("127.0.0.1", number, SMTP))

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


def test_a_report_to_our_return_address_is_taken_in(port):
    actor = make_member()
    site = make_site(actor)
    make_invitation(actor, site, make_owner(actor, site, email="ines@example.net"))
    Delivery.objects.update(return_token=TOKEN)
    with smtplib.SMTP("127.0.0.1", port) as line:
        line.sendmail("", [OURS], FAILED.replace(b"bounces+", b"elsewhere+").replace(TOKEN.encode(), b"0"))
    assert Invitation.objects.get().state == "bounced"
    assert MailReport.objects.get().kind == "dsn"


@pytest.mark.parametrize(
    "address", ["someone@example.com", "rooftally+short@example.org", f"rooftally+{TOKEN}@example.com", "postmaster"]
)
def test_nothing_is_relayed(port, address):
    with smtplib.SMTP("127.0.0.1", port) as line:
        line.ehlo()
        line.mail("a@example.com")
        code, _text = line.rcpt(address)
    assert code in {501, 550, 553}


def test_what_is_too_large_is_refused(port):
    with smtplib.SMTP("127.0.0.1", port) as line:
        line.helo()  # without EHLO the size is not said beforehand
        with pytest.raises(smtplib.SMTPDataError):
            line.sendmail("a@example.com", [OURS], b"x" * 80 + b"\r\n" + b"words\r\n" * 400_000)
    assert not MailReport.objects.exists()


def test_noise_does_not_stop_the_port(port):
    with socket.create_connection(("127.0.0.1", port), timeout=5) as line:
        line.sendall(b"\x16\x03\x01\x00\xff" * 200 + b"\r\n" + b"A" * 9000 + b"\r\n")
    with smtplib.SMTP("127.0.0.1", port) as line:
        line.sendmail("", [OURS], b"\xff\xfe\x00 not a mail at all")
    assert MailReport.objects.get().kind == "other"
