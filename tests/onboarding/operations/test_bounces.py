"""What a report changes: only with our token, once, and never by an automatic reply."""

from __future__ import annotations

import json
from io import BytesIO, StringIO, TextIOWrapper
from typing import Any

import pytest
from django.core.management import call_command

from onboarding.models import Delivery, Invitation, MailReport, Suppression
from onboarding.operations.bounces import take_in
from tests.factories import make_invitation, make_member, make_owner, make_site
from tests.onboarding.mail.test_reports import OURS, TOKEN, complaint, dsn, plain

pytestmark = pytest.mark.django_db

REFUSED = "Final-Recipient: rfc822; ines@example.net\nAction: failed\nStatus: {}\n"
FAILED = REFUSED + "Diagnostic-Code: smtp; 550 no such user\n"


@pytest.fixture
def delivery() -> Any:
    """A sent invitation whose delivery bears TOKEN."""
    actor = make_member()
    site = make_site(actor)
    invitation, _token = make_invitation(actor, site, make_owner(actor, site, email="ines@example.net"))
    sent = invitation.deliveries.get()
    Delivery.objects.filter(pk=sent.pk).update(return_token=TOKEN)
    return Delivery.objects.get(pk=sent.pk)


def states() -> tuple[str, str, int]:
    """Delivery's state, invitation's state, suppressions."""
    return Delivery.objects.get().state, Invitation.objects.get().state, Suppression.objects.count()


UNTOUCHED = ("sent", "sent", 0)


def test_a_clear_permanent_failure_ends_the_invitation_and_suppresses_the_address(delivery):
    take_in(dsn(FAILED.format("5.1.1")))
    assert states() == ("failed", "bounced", 1)
    assert Suppression.objects.get().reason == "bounced"


@pytest.mark.parametrize("status", ["4.2.2", "5.2.2", "5.0.0", "5.7.1", "4.4.7", "5.2.1"])
def test_any_other_failure_ends_the_invitation_and_suppresses_nothing(delivery, status):
    take_in(dsn(FAILED.format(status)))
    assert states() == ("failed", "bounced", 0)


def test_a_general_status_with_a_clear_reply_suppresses(delivery):
    take_in(dsn(REFUSED.format("5.0.0") + "Diagnostic-Code: smtp; 550 5.1.1 no such user\n"))
    assert states() == ("failed", "bounced", 1)


@pytest.mark.parametrize(
    "raw",
    [
        dsn("Final-Recipient: rfc822; ines@example.net\nAction: delayed\nStatus: 4.0.0\n"),
        dsn("Final-Recipient: rfc822; ines@example.net\nAction: delivered\nStatus: 2.0.0\n"),
        plain("From: ines@example.net\nSubject: Out of office\n", "550 5.1.1 user unknown\n"),
        plain("From: ines@example.net\nSubject: Re: hello\n", "Thank you.\n"),
        complaint("not-spam"),
        # forged: everything but the token
        dsn(FAILED.format("5.1.1")).replace(TOKEN.encode(), b"f" * 32),
        dsn(FAILED.format("5.1.1")).replace(b"+" + TOKEN.encode(), b""),
        complaint("abuse").replace(TOKEN.encode(), b"f" * 32),
    ],
)
def test_what_changes_nothing(delivery, raw):
    take_in(raw)
    assert states() == UNTOUCHED


def test_a_complaint_ends_the_invitation_and_suppresses_the_address(delivery):
    take_in(complaint("abuse"))
    assert states() == ("sent", "complained", 1)
    assert Suppression.objects.get().reason == "complained"


def test_a_complaint_that_names_no_address_of_ours_is_matched_by_the_leave_link(delivery):
    from django.conf import settings

    from onboarding.mail.return_path import leave_opaque

    opaque = leave_opaque(delivery.public_id, settings.SECRET_KEY)
    link = f"List-Unsubscribe: <https://x.example/leave/{opaque}>\n"
    raw = complaint("abuse").replace(OURS.encode(), b"abuse@example.org")
    take_in(raw.replace(b"\n\nSubject: hello", b"\n\n" + link.encode() + b"Subject: hello"))
    assert states() == ("sent", "complained", 1)


def test_an_unknown_delivery_is_settled_by_a_report(delivery):
    Delivery.objects.update(state="unknown")
    Invitation.objects.update(state="queued")
    take_in(dsn("Final-Recipient: rfc822; ines@example.net\nAction: delivered\nStatus: 2.0.0\n"))
    assert states() == ("sent", "sent", 0)


def test_of_several_recipients_our_own_counts(delivery):
    others = "Final-Recipient: rfc822; other@example.net\nAction: failed\nStatus: 5.1.1\n\n"
    take_in(dsn(others + "Final-Recipient: rfc822; INES@example.net\nAction: delivered\nStatus: 2.0.0\n"))
    assert states() == UNTOUCHED


def test_a_forward_that_failed_is_matched_by_the_token(delivery):
    forwarded = "Original-Recipient: rfc822;ines@example.net\nFinal-Recipient: rfc822; elsewhere@example.com\n"
    take_in(dsn(forwarded + "Action: failed\nStatus: 4.2.2\n"))
    assert states() == ("failed", "bounced", 0)


def test_the_same_report_twice_is_one(delivery):
    raw = dsn(FAILED.format("5.1.1"))
    assert take_in(raw).fresh
    Suppression.objects.all().delete()
    assert not take_in(raw).fresh
    assert Suppression.objects.count() == 0


def test_an_accepted_invitation_does_not_bounce_any_more(delivery):
    Invitation.objects.update(state="accepted")
    take_in(dsn(FAILED.format("5.2.2")))
    assert Invitation.objects.get().state == "accepted"


def read_bounce(raw: bytes, monkeypatch: pytest.MonkeyPatch, **options: Any) -> Any:
    monkeypatch.setattr("sys.stdin", TextIOWrapper(BytesIO(raw)))
    out = StringIO()
    call_command("read_bounce", stdout=out, **options)
    (line,) = out.getvalue().splitlines()
    return json.loads(line)


def test_the_command_reads_acts_and_writes_one_line(delivery, monkeypatch):
    assert read_bounce(dsn(REFUSED.format("5.1.1")), monkeypatch) == {
        "kind": "dsn",
        "recipients": [
            {"final_recipient": "ines@example.net", "action": "failed", "status": "5.1.1", "diagnostic": None}
        ],
        "outcome": ["bounced_permanent"],
    }
    assert states() == ("failed", "bounced", 0)


def test_the_command_can_only_look(delivery, monkeypatch):
    read_bounce(dsn(FAILED.format("5.1.1")), monkeypatch, dry_run=True)
    assert states() == UNTOUCHED
    assert not MailReport.objects.exists()


def test_unmatched_reports_are_listed_for_the_operator(delivery):
    take_in(dsn(FAILED.format("5.1.1")).replace(TOKEN.encode(), b"f" * 32))
    take_in(dsn(FAILED.format("5.1.1")))
    out = StringIO()
    call_command("unmatched_reports", stdout=out)
    (line,) = out.getvalue().splitlines()
    assert json.loads(line)["recipients"][0]["final_recipient"] == "ines@example.net"
