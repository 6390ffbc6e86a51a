"""Erasing an owner: nothing personal is left anywhere, and everything that must hold still holds."""

from datetime import timedelta

import pytest
from django.core.files import storage
from django.core.management import call_command
from django.db import connection
from django.urls import reverse
from django.utils import timezone

from fleet.models import Member, StoredFile, User
from fleet.operations.files import store_file
from fleet.operations.refusals import NotAllowed
from fleet.search import find_sites
from fleet.search.check import differences
from onboarding.mail.reports import read_report
from onboarding.models import ConsentDetail, Delivery, Invitation, Owner, Ownership, Suppression
from onboarding.operations.acceptance import accept_invitation, open_invitation
from onboarding.operations.bounces import act_on
from onboarding.operations.consents import OwnersWord, record_consent, withdraw_consent
from onboarding.operations.erasure import AlreadyErased, erase_owner, forget_address_keys
from onboarding.operations.invitation_links import LinkEnded
from onboarding.operations.invitations import queue_invitation
from onboarding.operations.optouts import opt_out
from onboarding.operations.owner_facts import UnknownOwner
from onboarding.operations.owners import OwnerFacts, edit_owner, end_ownership, register_owner
from onboarding.operations.suppressions import suppress
from onboarding.queries.ledger_check import findings
from tests.factories import (
    PASSWORD,
    make_company,
    make_contact_consent,
    make_invitation,
    make_member,
    make_owner,
    make_site,
)

pytestmark = pytest.mark.django_db
PNG = b"\x89PNG\r\n\x1a\n" + b"ink" * 20
TRACES = ("Quitéria", "quiteria", "Zambujal", "zambujal", "919191919", "198.51.100")


@pytest.fixture
def member() -> Member:
    return make_member(role="administrator")


@pytest.fixture
def owner(member: Member) -> Owner:
    """Somebody with everything: two addresses, a signature, an account, mail, a suppression, a site that was sold."""
    site = make_site(member)
    owner = make_owner(member, site, name="Quitéria Zambujal", email="quiteria@example.net", phone="+351 919191919")
    sold = make_site(member)
    Ownership.objects.create(company=member.company, site=sold, owner=owner)
    picture = store_file(
        actor=member, site=site, name="q.png", content=PNG, content_type="image/png", purpose="signature"
    )
    record_consent(
        actor=member, site=site, owner=owner, purpose="monitoring", state="given", how="signature", file=picture
    )
    _invitation, token = make_invitation(member, site, owner)
    accept_invitation(token=token, password=PASSWORD, choices={"contact": True, "monitoring": True}, session="s" * 16)
    owner.refresh_from_db()
    word = OwnersWord(user=User.objects.get(owners=owner), session="198.51.100.7")
    withdraw_consent(word=word, owner=owner, site=site, purpose="contact")
    facts = OwnerFacts(name="Quitéria Zambujal", email="q.zambujal@example.org", phone="+351 919191919")
    edit_owner(actor=member, site=site, owner=owner, facts=facts)
    suppress(company=member.company, address="Q.Zambujal@example.org", reason="by_staff", actor=member)
    end_ownership(actor=member, site=sold, owner=owner)
    owner.refresh_from_db()
    return owner


def everything_stored() -> str:
    """Every text of every table, but the tables of other tests' machinery."""
    texts = []
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f'SELECT * FROM "{table}"')
            texts += [f"{table}: {row}" for row in cursor.fetchall()]
    return "\n".join(texts)


def test_no_trace_of_the_person_is_left_in_any_table(member: Member, owner: Owner):
    before = everything_stored()
    assert all(trace in before for trace in TRACES)
    erase_owner(actor=member, owner=owner)
    after = everything_stored()
    left = [line[:200] for line in after.splitlines() if any(trace in line for trace in TRACES)]
    assert left == []


def test_the_ledger_is_whole_afterwards_and_still_tells_what_was_permitted_when(member: Member, owner: Owner):
    said = list(owner.consent_entries.order_by("position").values_list("purpose", "state", "at", "wording"))
    erase_owner(actor=member, owner=owner)
    assert list(findings(member.company)) == []
    call_command("verify_consents")
    kept = list(owner.consent_entries.order_by("position").values_list("purpose", "state", "at", "wording"))
    assert kept[: len(said)] == said
    assert not owner.consent_standings.filter(state="given").exists()
    assert all(detail.values == {} for detail in ConsentDetail.objects.filter(entry__owner=owner))


def test_the_search_finds_the_words_no_more_and_agrees_with_the_tables(member: Member, owner: Owner):
    assert find_sites(member=member, text="Zambujal").rows
    erase_owner(actor=member, owner=owner)
    for text in ("Zambujal", "zambujl", "quiteria@example.net", "919191919"):
        assert not find_sites(member=member, text=text).rows
    assert differences() == []


def test_an_account_that_nobody_else_needs_is_closed(member: Member, owner: Owner, client):
    user = owner.user
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    erase_owner(actor=member, owner=owner)
    user.refresh_from_db()
    assert (user.is_active, user.name, user.has_usable_password()) == (False, "—", False)
    assert client.get(reverse("onboarding:mine")).status_code == 302


@pytest.mark.parametrize("elsewhere", ["member", "owner"])
def test_an_account_that_is_used_elsewhere_stays(member: Member, owner: Owner, elsewhere: str):
    user = owner.user
    other = make_company("Outra Casa")
    if elsewhere == "member":
        make_member(other, user=user)
    else:
        Owner.objects.create(company=other, user=user, name="Quitéria")
    erase_owner(actor=member, owner=owner)
    user.refresh_from_db()
    assert (user.is_active, user.email) == (True, "quiteria@example.net")
    assert Owner.objects.get(pk=owner.pk).user is None


@pytest.mark.parametrize("written", ["q.zambujal@example.org", "Q.ZAMBUJAL@EXAMPLE.ORG", " q.Zambujal@Example.Org "])
def test_a_suppressed_address_stays_so_for_whoever_imports_it_again(member: Member, owner: Owner, written: str):
    erase_owner(actor=member, owner=owner)
    assert set(Suppression.objects.values_list("address", flat=True)) == {""}
    site = make_site(member)
    again = register_owner(actor=member, site=site, name="Somebody", email=written)
    make_contact_consent(member, site, again)
    invitation = queue_invitation(actor=member, site=site, owner=again)
    assert (invitation.state, invitation.held_reason) == ("held", "opted_out")


def test_the_signatures_file_goes_and_the_ledger_keeps_its_digest(
    member: Member, owner: Owner, django_capture_on_commit_callbacks
):
    file = StoredFile.objects.get(purpose="signature")
    assert storage.default_storage.exists(file.storage_key)
    with django_capture_on_commit_callbacks(execute=True):
        erase_owner(actor=member, owner=owner)
    assert not StoredFile.objects.filter(purpose="signature").exists()
    assert not storage.default_storage.exists(file.storage_key)
    assert file.sha256 in owner.consent_entries.get(evidence="signature", state="given").canonical


def test_the_hash_of_the_address_is_kept_until_its_date(member: Member, owner: Owner):
    erase_owner(actor=member, owner=owner)
    owner.refresh_from_db()
    assert len(owner.address_mac) == 64
    assert owner.kept_until is not None
    assert owner.kept_until > timezone.now() + timedelta(days=3600)
    assert forget_address_keys() == 0
    Owner.objects.update(kept_until=timezone.now())
    assert forget_address_keys() == 1
    assert Owner.objects.filter(pk=owner.pk, address_mac="", kept_until=None).exists()
    assert not Delivery.objects.filter(owner=owner).exclude(address_mac="").exists()
    assert Suppression.objects.filter(address_mac="").count() == 0


def test_an_open_invitation_ends_and_what_waits_does_not_leave(member: Member):
    site = make_site(member)
    owner = make_owner(member, site)
    invitation, token = make_invitation(member, site, owner)
    Delivery.objects.update(state="queued")
    erase_owner(actor=member, owner=owner)
    assert Invitation.objects.get(pk=invitation.pk).state == "cancelled"
    assert Delivery.objects.get().state == "stopped"
    with pytest.raises(LinkEnded):
        open_invitation(token=token)


def test_bounces_and_leave_links_of_their_mails_still_count(member: Member):
    site = make_site(member)
    owner = make_owner(member, site, email="gone@example.net")
    make_invitation(member, site, owner)
    erase_owner(actor=member, owner=owner)
    delivery = Delivery.objects.get()
    raw = (
        f"From: MAILER-DAEMON@mx.example\nTo: rooftally+{delivery.return_token}@example.org\nMIME-Version: 1.0\n"
        'Content-Type: multipart/report; report-type=delivery-status; boundary="b"\n\n'
        "--b\nContent-Type: message/delivery-status\n\nReporting-MTA: dns; mx.example\n\n"
        "Final-Recipient: rfc822; gone@example.net\nAction: failed\nStatus: 5.1.1\n"
        "Diagnostic-Code: smtp; 550 5.1.1 no such user\n\n--b--\n"
    )
    act_on(read_report(raw.encode()))
    opt_out(delivery=delivery)
    kept = Suppression.objects.get()
    assert (kept.address, kept.reason) == ("", "bounced")
    again = register_owner(actor=member, site=site, name="Somebody", email="GONE@example.net")
    make_contact_consent(member, site, again)
    assert queue_invitation(actor=member, site=site, owner=again).held_reason == "bad_address"


def test_only_an_administrator_of_the_same_company_erases_and_only_once(member: Member, owner: Owner):
    with pytest.raises(NotAllowed):
        erase_owner(actor=make_member(member.company, role="office"), owner=owner)
    with pytest.raises(UnknownOwner):
        erase_owner(actor=make_member(role="administrator"), owner=owner)
    erase_owner(actor=member, owner=owner)
    with pytest.raises(AlreadyErased):
        erase_owner(actor=member, owner=owner)


def test_the_page_asks_once_more(member: Member, owner: Owner, client):
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    url = reverse("onboarding:erase_owner", args=[owner.public_id])
    assert "Quitéria Zambujal" in client.get(url).content.decode()
    assert client.post(url, {}).status_code == 422
    assert Owner.objects.get(pk=owner.pk).erased_at is None
    site = owner.ownerships.order_by("-since", "-id")[0].site
    answer = client.post(url, {"sure": "on"})
    assert answer["Location"] == reverse("fleet:site", args=[site.code])
    assert "Somebody whose data was erased" in client.get(answer["Location"]).content.decode()
    assert client.get(url).status_code == 404
    assert User.objects.filter(email__startswith="quiteria").count() == 0
