"""People and programs that mean no good, at the owner's way in and on the owner's pages."""

import threading
from datetime import timedelta

import pytest
from django.core.cache import cache
from django.db import connections
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import User
from onboarding.limits import STEADY_SECONDS
from onboarding.models import ConsentEntry, Delivery, Invitation, InvitationLink, InvitationState, Owner, Suppression
from onboarding.operations.acceptance import accept_invitation, masked
from onboarding.operations.consents import record_consent
from onboarding.operations.invitation_links import mint_link
from onboarding.operations.invitation_sweep import sweep
from onboarding.operations.invitations import (
    cancel_invitation,
    print_letter,
    queue_invitation,
    remind,
    resend_invitation,
)
from onboarding.operations.owners import OwnerAddressTaken, register_owner
from onboarding.operations.suppressions import suppress
from tests.factories import make_contact_consent, make_invitation, make_member, make_owner, make_site, make_user

pytestmark = pytest.mark.django_db
SECRET = "ochre gate seven quails"


@pytest.fixture
def member():
    return make_member(role="administrator")


@pytest.fixture
def site(member):
    return make_site(member)


@pytest.fixture
def owner(member, site):
    return make_owner(member, site, name="Inês Exemplo", email="ines@example.net")


@pytest.fixture
def sent(member, site, owner):
    """A sent invitation and the token of its mail."""
    return make_invitation(member, site, owner)


def page(token: str) -> str:
    return reverse("onboarding:welcome", args=[token])


def accept(client: Client, token: str, **form: str):
    return client.post(page(token), {"act": "accept", "password": SECRET, **form})


def state() -> str:
    return Invitation.objects.latest("id").state


# --- links -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("token", ["x" * 43, "a", "%00" * 9, "é" * 20, "A" * 5000, "..%2F..%2Fmine"])
def test_guessed_links_are_not_found_and_change_nothing(client, sent, token):
    for answer in (client.get(page(token)), accept(client, token), client.post(page(token), {"act": "continue"})):
        assert answer.status_code == 404
    assert state() == InvitationState.SENT


def test_a_flood_of_guesses_is_stopped_and_says_when_to_come_back(client, sent):
    answers = [client.get(page(f"guess-number-{number}")) for number in range(32)]
    assert [answers[0].status_code, answers[-1].status_code] == [404, 429]
    assert answers[-1]["Retry-After"]


def test_the_flood_is_counted_where_every_process_sees_it(client, sent):
    for number in range(31):
        client.get(page(f"guess-number-{number}"))
    assert Client().get(page("another-guess")).status_code == 429
    cache.clear()
    assert Client().get(page("another-guess")).status_code == 404


def test_a_used_link_accepts_nobody_again(client, sent):
    _invitation, token = sent
    assert accept(client, token).status_code == 302
    replay = accept(Client(), token, password="another pass of words")
    assert replay.status_code == 410
    assert User.objects.get(email="ines@example.net").check_password(SECRET)


def test_a_resent_invitation_kills_the_earlier_link(client, member, sent):
    invitation, old = sent
    resend_invitation(actor=member, invitation=invitation)
    assert client.get(page(old)).status_code == 410
    assert accept(client, old).status_code == 410
    invitation.refresh_from_db()
    assert client.get(page(mint_link(invitation=invitation, send_number=2))).status_code == 200


def test_a_reminder_keeps_the_first_link_good(client, member, sent):
    invitation, token = sent
    remind(actor=member, invitation=invitation)
    assert client.get(page(token)).status_code == 200


def test_an_expired_link_is_refused_before_any_sweep(client, sent):
    _invitation, token = sent
    Invitation.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    assert client.get(page(token)).status_code == 410
    assert accept(client, token).status_code == 410


def test_a_cancelled_invitation_opens_for_nobody(client, member, sent):
    invitation, token = sent
    cancel_invitation(actor=member, invitation=invitation)
    assert accept(client, token).status_code == 410
    assert not User.objects.filter(email="ines@example.net").exists()


def test_only_a_hash_of_the_link_is_kept(sent):
    _invitation, token = sent
    everything = str(list(InvitationLink.objects.values())) + str(list(Delivery.objects.values()))
    assert token not in everything


@pytest.mark.parametrize("method", ["put", "patch", "delete", "options"])
def test_other_methods_change_nothing(client, sent, method):
    _invitation, token = sent
    assert getattr(client, method)(page(token)).status_code == 405
    assert state() == InvitationState.SENT


def test_links_stay_out_of_the_logs(client, sent, caplog):
    from fleet.logs import WithoutSecrets

    caplog.handler.addFilter(WithoutSecrets())
    _invitation, token = sent
    Client(enforce_csrf_checks=True).post(page(token), {"act": "continue"})
    client.get(page("a-guessed-link-of-somebody"))
    assert "Forbidden" in caplog.text
    assert token not in caplog.text
    assert "a-guessed-link-of-somebody" not in caplog.text


# --- forged requests, sessions, redirects, hosts ---------------------------------------------------------------------


def test_forms_of_other_pages_are_refused(sent):
    _invitation, token = sent
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(page(token), {"act": "accept", "password": SECRET}).status_code == 403
    assert state() == InvitationState.SENT


def test_accepting_changes_the_session_key(client, sent):
    _invitation, token = sent
    client.post(page(token), {"act": "continue"})
    planted = client.session.session_key
    assert accept(client, token).status_code == 302
    assert client.session.session_key != planted
    stolen = Client()
    stolen.cookies["rooftally_session"] = planted
    assert stolen.get(reverse("onboarding:mine")).status_code == 302


def test_accepting_while_signed_in_changes_the_session_key_too(client, member, sent):
    _invitation, token = sent
    client.force_login(make_user("INES@example.net"), backend="django.contrib.auth.backends.ModelBackend")
    before = client.session.session_key
    assert client.post(page(token), {"act": "accept"}).status_code == 302
    assert client.session.session_key != before


@pytest.mark.parametrize(
    "target",
    [
        "https://evil.example/", "//evil.example", "///evil.example", "javascript:alert(1)", "/\\evil.example",
        "\\\\evil.example", "https:evil.example", "http:///evil.example", "%2f%2fevil.example", "/%2fevil.example",
        "/%09/evil.example", "/%5Cevil.example", "\t//evil.example", "http://testserver.evil.example/",
        "http://testserver@evil.example/", "evil.example",
    ],
)  # fmt: skip
def test_nobody_is_sent_elsewhere(client, sent, target):
    _invitation, token = sent
    answer = client.post(f"{page(token)}?next={target}", {"act": "continue", "next": target})
    assert "evil" not in answer["Location"]
    user = make_user("rui@example.net", password=SECRET)
    signed = client.post(reverse("account_login"), {"login": user.email, "password": SECRET, "next": target})
    assert signed.status_code == 302
    assert "evil" not in signed["Location"]
    assert "javascript" not in signed["Location"]


def test_a_forged_host_is_refused(client, sent):
    _invitation, token = sent
    assert client.get(page(token), headers={"host": "evil.example"}).status_code == 400


def test_letters_and_mails_name_the_configured_address_only(client, member, site, owner, settings):
    make_contact_consent(member, site, owner)
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    url = reverse("onboarding:print_letter", args=[site.code, owner.public_id])
    shown = client.post(url, headers={"x-forwarded-host": "evil.example"}).content.decode()
    assert "evil.example" not in shown
    assert f"{settings.BASE_URL}/letter" in shown


# --- accounts --------------------------------------------------------------------------------------------------------


def test_the_link_never_sets_the_password_of_an_account(client, sent):
    _invitation, token = sent
    user = make_user("Ines@Example.net", password="the one they chose before")
    answer = accept(client, token)
    user.refresh_from_db()
    assert answer.status_code == 409
    assert user.check_password("the one they chose before")
    assert state() == InvitationState.SENT


def test_somebody_else_signed_in_is_refused_and_sees_a_masked_address(client, sent):
    _invitation, token = sent
    client.force_login(make_user("thief@example.org"), backend="django.contrib.auth.backends.ModelBackend")
    client.post(page(token), {"act": "continue"})
    shown = client.get(page(token))
    assert (shown.status_code, accept(client, token).status_code) == (409, 409)
    assert "ines@example.net" not in shown.content.decode()
    assert masked("ines@example.net") in shown.content.decode()
    assert Owner.objects.get().user is None


def test_a_forwarded_link_shows_neither_name_nor_address(client, sent):
    _invitation, token = sent
    shown = client.post(page(token), {"act": "continue"}, follow=True).content.decode()
    assert "Inês" not in shown
    assert "ines@" not in shown


@pytest.mark.parametrize(
    "password", ["short", "a" * 30, "passwordpassword", "Telhado Claro Tavira", "Ines Exemplo Tavira", "x" * 257]
)
def test_passwords_that_a_stranger_would_try_are_refused(client, sent, password):
    _invitation, token = sent
    assert accept(client, token, password=password).status_code == 422
    assert not User.objects.filter(email="ines@example.net").exists()


@pytest.mark.parametrize(
    "password",
    ["þrjár gulrætur í kassa", "   spaces are kept   ", "um gato, dois telhados e três " * 4, "only small letters"],
)
def test_any_characters_make_a_password(client, sent, password):
    _invitation, token = sent
    assert accept(client, token, password=password).status_code == 302
    assert User.objects.get(email="ines@example.net").check_password(password)


def test_a_flood_of_tries_on_one_link_is_stopped(client, sent):
    _invitation, token = sent
    statuses = [accept(client, token, password="short").status_code for _ in range(22)]
    assert (statuses[0], statuses[-1]) == (422, 429)


def test_choices_that_nobody_asked_for_are_not_recorded(client, sent):
    _invitation, token = sent
    accept(client, token, everything="yes", marketing="yes")
    assert set(ConsentEntry.objects.filter(evidence="owner_online").values_list("purpose", flat=True)) == {
        "monitoring",
        "home_network",
        "contact",
    }
    assert not ConsentEntry.objects.filter(evidence="owner_online", state="given").exists()


@pytest.mark.django_db(transaction=True)
def test_of_two_acceptances_at_once_one_wins(sent):
    _invitation, token = sent
    outcomes: list[str] = []
    gate = threading.Barrier(2)

    def go(password: str) -> None:
        gate.wait()
        try:
            accept_invitation(token=token, password=password, choices={"contact": True})
            outcomes.append("won")
        except Exception as refusal:  # the loser's reason is what is looked at
            outcomes.append(getattr(refusal, "code", repr(refusal)))
        finally:
            connections.close_all()

    threads = [threading.Thread(target=go, args=(f"{SECRET} {number}",)) for number in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert sorted(outcomes) in (["link_used", "won"], ["sign_in_first", "won"])
    assert ConsentEntry.objects.filter(evidence="owner_online").count() == 1
    assert User.objects.filter(email="ines@example.net").count() == 1


# --- telling nobody anything -----------------------------------------------------------------------------------------


def test_renewal_answers_the_same_for_known_and_unknown_links(client, sent):
    _invitation, token = sent
    Invitation.objects.update(state="expired", expires_at=timezone.now() - timedelta(days=1))
    InvitationLink.objects.update(made_at=timezone.now() - timedelta(days=31))
    known = client.post(page(token), {"act": "renew"})
    unknown = client.post(page("nobody-ever-had-this-link"), {"act": "renew"})
    assert (known.status_code, known.content) == (unknown.status_code, unknown.content)
    assert Invitation.objects.filter(state="queued").count() == 1


def test_renewal_cannot_be_used_to_flood_the_owner(client, sent):
    _invitation, token = sent
    Invitation.objects.update(state="expired")
    InvitationLink.objects.update(made_at=timezone.now() - timedelta(days=31))
    before = Delivery.objects.count()
    for _ in range(12):
        assert client.post(page(token), {"act": "renew"}).status_code == 200
    assert Delivery.objects.count() == before + 1


def test_a_password_reset_answers_the_same_for_known_and_unknown_addresses(client, sent):
    make_user("rui@example.net")
    known = client.post(reverse("account_reset_password"), {"email": "rui@example.net"})
    unknown = client.post(reverse("account_reset_password"), {"email": "nobody@example.net"})
    assert (known.status_code, known["Location"]) == (unknown.status_code, unknown["Location"])
    assert set(Delivery.objects.filter(stream="account").values_list("to_address", flat=True)) == {"rui@example.net"}


def test_what_tells_nothing_takes_the_same_time_too(client, sent, monkeypatch):
    _invitation, token = sent
    make_user("rui@example.net")
    waited: list[float] = []
    monkeypatch.setattr("onboarding.limits.time.monotonic", lambda: 1000.0)
    monkeypatch.setattr("onboarding.limits.time.sleep", waited.append)
    for address in ("rui@example.net", "nobody@example.net"):
        client.post(reverse("account_reset_password"), {"email": address})
    for link in (token, "nobody-ever-had-this-link"):
        client.post(page(link), {"act": "renew"})
    assert waited == [STEADY_SECONDS] * 4


def test_an_owner_whose_address_is_not_ascii_signs_in_and_gets_a_new_password(client):
    user = make_user("inês@straße.example", password=SECRET)
    signed = client.post(reverse("account_login"), {"login": user.email, "password": SECRET})
    assert signed.status_code == 302
    Client().post(reverse("account_reset_password"), {"email": user.email})
    assert Delivery.objects.get(template="password_reset").to_address == user.email


def test_a_wrong_sign_in_says_the_same_for_known_and_unknown_addresses(client):
    make_user("rui@example.net", password=SECRET)
    said = []
    for address in ("rui@example.net", "nobody@example.net"):
        answer = client.post(reverse("account_login"), {"login": address, "password": "a wrong one, surely"})
        said.append(answer.context["form"].errors.as_json())
    assert said[0] == said[1]


def test_sign_in_cannot_be_tried_for_ever(client):
    make_user("rui@example.net", password=SECRET)
    for _ in range(12):
        client.post(reverse("account_login"), {"login": "rui@example.net", "password": "a wrong one, surely"})
    answer = client.post(reverse("account_login"), {"login": "rui@example.net", "password": SECRET})
    assert answer.status_code != 302


def test_nobody_signs_up(client):
    answer = client.post(
        reverse("account_signup"), {"email": "new@example.net", "password1": SECRET, "password2": SECRET}
    )
    assert answer.status_code in (200, 302, 403)
    assert not User.objects.filter(email="new@example.net").exists()


def test_naming_a_second_owner_does_not_tell_whom_the_company_knows(client, member, site, owner, sent):
    make_owner(member, make_site(member), name="Somebody Known", email="known@example.net")
    _invitation, token = sent
    accept(client, token)
    url = reverse("onboarding:second_owner", args=[site.code])
    answers = [
        client.post(url, {"name": "Rui", "email": address, "agreed": "on", "language": "en"})
        for address in ("known@example.net", "stranger@example.net")
    ]
    assert [answer.status_code for answer in answers] == [302, 302]
    shown = client.get(reverse("onboarding:my_site", args=[site.code])).content.decode()
    assert "Somebody Known" not in shown


# --- opted out, not me, injection ------------------------------------------------------------------------------------


@pytest.mark.parametrize("written", ["ines@example.net", "INES@example.net", "Ines@EXAMPLE.NET", "ines@example.net "])
def test_an_opted_out_address_is_not_invited_in_any_letter_case(member, site, written):
    suppress(company=member.company, address="Ines@Example.net", reason=Suppression.Reason.UNSUBSCRIBED)
    owner = make_owner(member, site, email=written)
    make_contact_consent(member, site, owner)
    invitation = queue_invitation(actor=member, site=site, owner=owner)
    assert (invitation.state, invitation.held_reason) == ("held", "opted_out")
    assert not Delivery.objects.exists()


@pytest.mark.parametrize(
    ("left", "written"),
    [
        ("inês@example.net", "INÊS@example.net"),
        ("inês@example.net", "ine\u0302s@example.net"),
        ("ines@straße.example", "Ines@XN--STRAE-OQA.example"),
        ("ines@bücher.example", "ines@BU\u0308CHER.example"),
        ("ines@example.net", "ines+solar@example.net"),
        ("ines+solar@example.net", "Ines@example.net"),
        ("ines+solar@example.net", "ines+roof@example.net"),
    ],
)
def test_nor_in_another_unicode_form_nor_at_another_tag(member, site, left, written):
    suppress(company=member.company, address=left, reason=Suppression.Reason.UNSUBSCRIBED)
    owner = make_owner(member, site, email=written)
    make_contact_consent(member, site, owner)
    invitation = queue_invitation(actor=member, site=site, owner=owner)
    assert (invitation.state, invitation.held_reason) == ("held", "opted_out")
    assert not Delivery.objects.exists()


@pytest.mark.parametrize("reason", ["bounced", "by_staff"])
def test_a_tag_that_bounced_says_nothing_about_its_mailbox(member, site, reason):
    suppress(company=member.company, address="ines+solar@example.net", reason=reason)
    owner = make_owner(member, site, email="ines@example.net")
    make_contact_consent(member, site, owner)
    assert queue_invitation(actor=member, site=site, owner=owner).state == "queued"


def test_the_same_address_in_another_letter_case_is_the_same_owner(member, site, owner):
    with pytest.raises(OwnerAddressTaken):
        register_owner(actor=member, site=site, name="Twice", email="INES@EXAMPLE.NET")


def test_not_me_ends_the_matter_and_later_reports_do_not_revive_it(client, member, site, owner, sent):
    _invitation, token = sent
    assert client.post(page(token), {"act": "not_me"}).status_code == 200
    assert state() == InvitationState.CANCELLED
    assert accept(client, token).status_code == 410
    assert Suppression.objects.filter(reason="not_me").count() == 1
    record_consent(
        actor=member, site=site, owner=owner, purpose="contact", state="given", how="paper_reference", reference="7"
    )
    assert queue_invitation(actor=member, site=site, owner=owner).held_reason == "opted_out"


@pytest.mark.parametrize(
    "name", ["{{ company }}", "{% load static %}", "<script>alert(1)</script>", "Rui\r\nBcc: x@y.z"]
)
def test_what_is_typed_is_shown_and_never_run(client, member, site, name):
    owner = make_owner(member, site, name=name)
    make_invitation(member, site, owner)
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    shown = client.get(reverse("fleet:site", args=[site.code])).content.decode()
    assert "<script>alert" not in shown
    assert "\n" not in owner.name
    assert "\r" not in owner.name
    if name.startswith("{"):
        assert name in shown


@pytest.mark.parametrize(
    "address", ["a@example.net\nBcc: b@example.net", "a b@example.net", "@example.net", "a@", "a@@b.pt"]
)
def test_addresses_that_carry_headers_are_refused(client, member, site, address):
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    url = reverse("onboarding:new_owner", args=[site.code])
    answer = client.post(url, {"name": "Rui", "email": address, "kind": "person", "language": "en"})
    assert answer.status_code == 422
    assert not Owner.objects.exists()


# --- letters ---------------------------------------------------------------------------------------------------------


def test_a_letter_opens_the_same_way_in_once(client, member, site):
    owner = make_owner(member, site, email="")
    make_contact_consent(member, site, owner)
    _invitation, code = print_letter(actor=member, site=site, owner=owner)
    typed = f"{code[:4].lower()} {code[4:8]}-{code[8:]}"
    answer = client.post(reverse("onboarding:letter"), {"code": typed})
    assert answer["Location"] == page(code)
    assert accept(client, code).status_code == 302
    assert accept(Client(), code).status_code == 410
    assert User.objects.get(owners=owner).email.endswith("@letter.invalid")


def test_a_sign_in_name_without_mail_asks_for_a_new_password_like_any_other(client):
    make_user("a1b2.7@letter.invalid")
    known = client.post(reverse("account_reset_password"), {"email": "a1b2.7@letter.invalid"})
    unknown = client.post(reverse("account_reset_password"), {"email": "nobody@example.net"})
    assert (known.status_code, known["Location"]) == (unknown.status_code, unknown["Location"])
    assert not Delivery.objects.exists()


def test_letter_codes_cannot_be_tried_out(client):
    statuses = [
        client.post(reverse("onboarding:letter"), {"code": f"{number:016d}"}).status_code for number in range(32)
    ]
    assert (statuses[0], statuses[-1]) == (422, 429)


# --- a withdrawal between queueing and the clock ---------------------------------------------------------------------


def test_no_reminder_after_a_withdrawal(member, site, owner, sent):
    Invitation.objects.update(sent_at=timezone.now() - timedelta(days=20))
    record_consent(actor=member, site=site, owner=owner, purpose="contact", state="withdrawn", how="staff_statement")
    before = Delivery.objects.count()
    sweep()
    assert Delivery.objects.count() == before


def test_two_reminders_at_most(member, sent):
    Invitation.objects.update(sent_at=timezone.now() - timedelta(days=25))
    for _ in range(5):
        sweep()
    assert Delivery.objects.filter(stream="reminder").count() == 2
