"""The demo: its company is sound and shows every state, and its job goes through or says where it did not."""

import os
import socket
import subprocess
import sys
from datetime import timedelta
from pathlib import Path

import pytest
from django.core.management import call_command
from django.utils import timezone

from fleet.management.embedded.web import AddressTaken, bound_socket
from fleet.models import AuditEntry, Company, Device, Member, Role, Site
from onboarding.management.demo.browser import Browser, Page
from onboarding.management.demo.data import load
from onboarding.management.demo.label import label_picture
from onboarding.management.demo.people import OWNER, STAFF, SignIn, sign_ins
from onboarding.management.demo.story import Job, link_in
from onboarding.models import ConsentEntry, Delivery, Invitation, InvitationState, Owner, Suppression
from onboarding.operations.held import hold_reason
from onboarding.queries.act_words import ACT_OF_STATE
from onboarding.queries.invitation_list import successor
from onboarding.queries.timeline import WORDS
from tests.servers.process import free_port

FORM_PAGE = """
<form method="post" enctype="multipart/form-data" action="save">
  <input type="hidden" name="token" value="t1"><input name="street" value="Rua"><input type="file" name="photo">
  <input type="checkbox" name="agreed"><input type="checkbox" name="known" value="yes" checked>
  <select name="kind"><option value="a">A</option><option value="b" selected>B</option></select>
  <button name="act" value="go">Go</button>
</form>
<a href="/mailbox/1/">letter</a>
"""


@pytest.mark.django_db
def test_every_state_of_an_invitation_is_there_and_the_ledger_is_whole(tmp_path: Path):
    company = load(sign_ins(tmp_path / "sign-ins.json"), lambda line: None, sites=60)
    assert Site.objects.filter(company=company).count() == 60
    assert Device.objects.filter(company=company).count() == 270
    planned = Site.objects.filter(company=company, stage="planned")
    assert [(site.placements.count(), site.expected_devices.count()) for site in planned] == [(0, 5)] * 6
    assert {member.role for member in Member.objects.filter(company=company)} == set(Role.values)
    shown = set(Invitation.objects.filter(company=company).values_list("state", flat=True))
    assert shown == set(InvitationState.values)
    known = sign_ins(tmp_path / "sign-ins.json")
    assert Owner.objects.get(email=OWNER[1]).user.check_password(known[OWNER[1]].password)
    call_command("verify_consents")


@pytest.mark.django_db
def test_the_demo_holds_nothing_that_the_acts_could_not_have_made(tmp_path: Path):
    company = load(sign_ins(tmp_path / "sign-ins.json"), lambda line: None, sites=60)
    for invitation in Invitation.objects.filter(company=company).select_related("owner"):
        told = [event.what for event in invitation.events.order_by("id")]
        assert told[0] == "made", told
        assert set(told) <= set(WORDS), told
        state = invitation.state
        assert state in told or (state, told[-1]) in {("draft", "taken_back")} or "reminder_sent" in told, (state, told)
        assert (invitation.sent_at is not None) == ("sent" in told), (state, told)
        assert told.count("reminder_queued") == invitation.reminders, (state, told)
        _mails_are_those_of_the_timeline(invitation, told)
        if state in ("bounced", "complained"):
            [entry] = Suppression.objects.filter(company=company, address=invitation.owner.email)
            assert (entry.reason, bool(entry.mailbox_mac)) == (state, True)
            assert entry.since == invitation.ended_at
        if state in ("held", "queued"):
            assert hold_reason(invitation.site, invitation.owner) == invitation.held_reason, state
        if state in ("sent", "opened"):
            assert invitation.expires_at is not None
            assert invitation.expires_at > timezone.now(), (state, told)
        if state == "replaced":
            later = successor(invitation)
            assert later is not None
            assert later.created_at == invitation.ended_at
        if invitation.ended_at:
            last = invitation.events.order_by("id").last()
            assert last is not None
            assert abs(last.at - invitation.ended_at) < timedelta(seconds=1)
    _each_row_stands_on_the_trail(company)


def _mails_are_those_of_the_timeline(invitation: Invitation, told: list[str]) -> None:
    mails = list(invitation.deliveries.order_by("send_number"))
    queued = [what for what in told if what in ("queued", "reminder_queued")]
    assert len(mails) == invitation.send_number == len(queued), (invitation.state, told)
    assert [mail.stream for mail in mails] == ["invitation", "reminder", "reminder"][: len(mails)]
    left = [mail for mail in mails if mail.transmitting_at]
    assert len(left) == invitation.links.count(), (invitation.state, told)
    if mails:
        ended = {"bounced": "failed", "failed": "failed", "draft": "stopped", "queued": "queued"}
        assert mails[0].state == ended.get(invitation.state, "sent")
    receipts = Delivery.objects.filter(owner=invitation.owner, stream="receipt", state="sent")
    assert receipts.count() == (invitation.state == "accepted")


def _each_row_stands_on_the_trail(company: Company) -> None:
    def on_trail(*acts: str) -> set[str]:
        return set(AuditEntry.objects.filter(company=company, act__in=acts).values_list("object_id", flat=True))

    invitations = Invitation.objects.filter(company=company)
    assert on_trail("invite_owner", "replace_invitation") == {str(each.public_id) for each in invitations}
    accepted = invitations.filter(state="accepted")
    assert on_trail("accept_invitation") == {str(each.public_id) for each in accepted}
    suppressed = Suppression.objects.filter(company=company)
    assert on_trail("suppress_address") == {str(each.public_id) for each in suppressed}
    said = ConsentEntry.objects.filter(company=company)
    assert on_trail(*ACT_OF_STATE.values()) == {str(each.pk) for each in said}


def test_sign_ins_are_drawn_once_and_kept_for_the_owner_of_the_machine_alone(tmp_path: Path):
    first = sign_ins(tmp_path / "kept.json")
    assert sign_ins(tmp_path / "kept.json") == first
    assert sign_ins(tmp_path / "others.json") != first
    assert (tmp_path / "kept.json").stat().st_mode & 0o777 == 0o600
    assert len(first) == len(STAFF) + 1


def test_the_browser_reads_forms_as_people_see_them():
    page = Page(200, "http://127.0.0.1:1/sites/new", FORM_PAGE, {})
    [form] = page.forms
    assert form.values == {"token": "t1", "street": "Rua", "known": "yes", "kind": "b"}
    assert (form.action, form.method, form.multipart) == ("http://127.0.0.1:1/sites/save", "POST", True)
    assert form.buttons == [("act", "go")]
    assert page.links == ["http://127.0.0.1:1/mailbox/1/"]
    with pytest.raises(LookupError, match="no form with password"):
        page.form_with("password")


def test_the_browser_stays_at_its_own_address():
    with pytest.raises(ValueError, match="not the demo's own address"):
        Browser("http://127.0.0.1:1").get("http://example.com/")


def test_the_link_in_a_mail_is_found():
    assert link_in("Open\nhttp://127.0.0.1:8000/welcome/a-B_9\n") == "http://127.0.0.1:8000/welcome/a-B_9"
    assert link_in("nothing here") == ""


def test_the_label_is_one_that_the_decoder_reads():
    from fleet.labels.optical import read_image

    codes = read_image(label_picture(gtin="09520001000010", serial="DEMO1", model="X"))
    assert [code.payload for code in codes] == ["https://id.example.com/01/09520001000010/21/DEMO1"]


def test_a_step_that_fails_is_told_and_ends_the_job():
    told: list[str] = []
    nobody_there = Job("http://127.0.0.1:9", SignIn("Ana", "ana@example.org", "x"), 1, told.append)
    assert nobody_there.run() is False
    assert len(told) == 1
    assert "sign in" in told[0]


def demo_with(data: Path, *words: str) -> subprocess.CompletedProcess[str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("ROOFTALLY_", "PYTEST_"))}
    return subprocess.run(
        [sys.executable, "manage.py", "demo", "--exit", "--sites", "40", *words],
        env=kept | {"ROOFTALLY_DATA_DIR": str(data)}, capture_output=True, text=True, timeout=280, check=False,
    )  # fmt: skip


@pytest.mark.once
@pytest.mark.timeout(120)
def test_a_taken_port_is_said_before_anything_is_loaded(tmp_path: Path):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = str(taken.getsockname()[1])
        ended = demo_with(tmp_path, "--port", port)
    assert ended.returncode == 1
    assert f"127.0.0.1 port {port}" in ended.stderr
    assert "Nothing was loaded or changed: give another port with --port." in ended.stderr
    assert "Traceback" not in ended.stderr
    assert {each.name for each in tmp_path.iterdir()} <= {"ledger-key", "secret-key"}  # kept by every start


def test_two_that_are_given_one_port_do_not_both_think_that_it_is_theirs():
    with bound_socket("127.0.0.1", 0) as first, pytest.raises(AddressTaken):
        bound_socket("127.0.0.1", first.getsockname()[1])
    with pytest.raises(AddressTaken, match="70000"):
        bound_socket("127.0.0.1", 70000)


def test_make_hands_the_port_on():
    told = subprocess.run(
        ["make", "-n", "demo", "PORT=8123"], capture_output=True, text=True, timeout=30, check=True
    ).stdout
    assert "manage.py demo --port 8123" in told


@pytest.mark.slow
@pytest.mark.once
@pytest.mark.timeout(600)
def test_the_command_shows_the_job_twice(tmp_path: Path):
    port = str(free_port())
    for start in ("Loading Telhado Claro", "Telhado Claro is loaded already."):
        ended = demo_with(tmp_path, "--port", port)
        assert ended.returncode == 0, ended.stdout + ended.stderr
        assert start in ended.stdout
        assert f"Serving at http://127.0.0.1:{port}." in ended.stdout
        assert ended.stdout.count("✓") == 13
        assert "The whole job went through." in ended.stdout
