"""Incoming mail in several hundred shapes: each is read as what it is, and only a report of ours changes anything."""

import io
import json
from types import SimpleNamespace

import pytest
from django.core.management import call_command
from django.db import OperationalError

from onboarding.mail.plain_bounces import MOST_NAMED
from onboarding.mail.reports import read_report
from onboarding.models import Delivery, Invitation, MailReport, Suppression
from tests.factories import make_invitation, make_member, make_owner, make_site
from tests.onboarding.mail.odd_mail import DAEMON, ODD_MAIL, TOKEN, Odd

NO_CHANGE = [odd for odd in ODD_MAIL if odd.kind in ("auto_reply", "other") or not odd.outcome]


@pytest.mark.parametrize("odd", ODD_MAIL, ids=[odd.name for odd in ODD_MAIL])
def test_is_read_as_what_it_is(odd: Odd):
    read = read_report(odd.raw)
    assert (read.kind, tuple(read.outcome)) == (odd.kind, odd.outcome)
    json.dumps(read.as_document())


@pytest.mark.parametrize("lines", ["\n" * 99_000, "a@example.net\n" * 7_000, "<a@example.net>:\n550\n\n" * 5_000])
def test_a_flood_of_names_and_lines_is_cut_short(lines):
    named = ",".join(f"a{number}@example.net" for number in range(3000))
    read = read_report(f"X-Failed-Recipients: {named}\n{DAEMON}\n{lines}".encode())
    assert len(read.recipients) == MOST_NAMED


@pytest.fixture
def ours():
    """A mail of ours that was sent, with the token that the table's messages carry."""
    member = make_member()
    site = make_site(member)
    invitation, _link = make_invitation(member, site, make_owner(member, site, email="a@example.net"))
    Delivery.objects.update(return_token=TOKEN)
    return invitation


def told(raw: bytes, monkeypatch):
    """What the command prints: exactly one line of JSON."""
    out = io.StringIO()
    monkeypatch.setattr("sys.stdin", SimpleNamespace(buffer=io.BytesIO(raw)))
    call_command("read_bounce", stdout=out)
    [line] = out.getvalue().splitlines()
    return json.loads(line)


def standing() -> list[object]:
    return [list(model.objects.order_by("pk").values()) for model in (Delivery, Invitation, Suppression)]


@pytest.mark.django_db
def test_automatic_replies_and_other_mail_change_nothing_though_they_carry_our_token(ours, monkeypatch):
    before = standing()
    for odd in NO_CHANGE:
        assert told(odd.raw, monkeypatch)["kind"] == odd.kind
    assert standing() == before


@pytest.mark.django_db
def test_reports_without_our_token_change_nothing_and_are_the_operators_to_see(ours, monkeypatch):
    before = standing()
    forged = [odd.raw.replace(TOKEN.encode(), b"f" * 32) for odd in ODD_MAIL if odd.outcome]
    for raw in forged[::7]:
        told(raw, monkeypatch)
    assert standing() == before
    assert MailReport.objects.filter(delivery=None, kind="dsn").exists()


@pytest.mark.django_db
def test_one_report_with_our_token_ends_the_invitation(ours, monkeypatch):
    [odd] = [odd for odd in ODD_MAIL if odd.name == "a subject that is not base64"]
    assert told(odd.raw, monkeypatch)["recipients"] == [
        {
            "final_recipient": "a@example.net",
            "action": "failed",
            "status": "5.1.1",
            "diagnostic": "smtp; 550 5.1.1 no such user",
        }
    ]
    ours.refresh_from_db()
    assert ours.state == "bounced"
    assert Suppression.objects.get().reason == "bounced"


@pytest.mark.django_db
def test_a_report_that_the_database_could_not_keep_is_asked_for_again(monkeypatch, capsys):
    def busy(_report: object) -> None:
        raise OperationalError("database is locked")

    monkeypatch.setattr("onboarding.management.commands.read_bounce.act_on", busy)
    monkeypatch.setattr("sys.stdin", SimpleNamespace(buffer=io.BytesIO(ODD_MAIL[0].raw)))
    with pytest.raises(SystemExit) as ended:
        call_command("read_bounce")
    assert ended.value.code == 75
    assert json.loads(capsys.readouterr().out)["kind"] == "dsn"
