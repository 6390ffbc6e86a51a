"""The sender against a real SMTP server on loopback: every answer it can get, and what must hold whatever it gets."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import time, timedelta
from typing import Any

import pytest
from django.utils import timezone

from onboarding.mail.smtp import SmtpChannel
from onboarding.models import (
    ConsentStanding,
    Delivery,
    DeliveryState,
    Evidence,
    Invitation,
    InvitationLink,
    InvitationState,
    MailDomain,
    Suppression,
)
from onboarding.operations import sending
from onboarding.operations.claiming import claim_due, recover_stale
from onboarding.operations.deliveries import queue_delivery, settle_by_opening, stop_queued
from onboarding.operations.invitations import queue_invitation
from onboarding.operations.optouts import opt_out
from onboarding.operations.outcomes import permit
from onboarding.operations.suppressions import suppress
from tests.factories import make_company, make_contact_consent, make_member, make_owner, make_site
from tests.rows import make_consent
from tests.servers.smtp import SmtpServer

pytestmark = pytest.mark.django_db


@pytest.fixture
def server(settings: Any) -> Iterator[SmtpServer]:
    smtp = SmtpServer()
    settings.MAIL_URL = smtp.url
    settings.MAIL_TIMEOUT = 2
    yield smtp
    smtp.stop()


def invite(**owner: Any) -> Any:
    """A queued invitation's delivery."""
    actor = make_member(make_company())
    site = make_site(actor)
    person = make_owner(actor, site, **owner)
    make_contact_consent(actor, site, person)
    return queue_invitation(actor=actor, site=site, owner=person).deliveries.get()


def fresh(delivery: Delivery) -> Any:
    return Delivery.objects.select_related("invitation").get(pk=delivery.pk)


def test_an_invitation_arrives_once_and_is_sent(server):
    delivery = invite(email="ines@example.net")
    sending.sweep_deliveries()
    sending.sweep_deliveries()
    (mail,) = server.sink.to("ines@example.net")
    delivery = fresh(delivery)
    assert (delivery.state, delivery.reply_class, delivery.attempts) == ("sent", "accepted", 1)
    assert delivery.invitation.state == InvitationState.SENT
    assert mail.message["Message-ID"] == delivery.message_id
    assert delivery.return_token in mail.envelope_from


def test_the_link_in_the_mail_opens_the_invitation_and_is_kept_as_a_hash_only(server):
    from onboarding.operations.invitation_links import good_link

    delivery = invite(email="ines@example.net")
    sending.sweep_deliveries()
    text = server.sink.to("ines@example.net")[0].message.get_body(("plain",)).get_content()
    token = next(line for line in text.splitlines() if "/welcome/" in line).rpartition("/")[2]
    assert good_link(token).invitation.pk == delivery.invitation_id
    assert token not in InvitationLink.objects.get().token_hash


def test_without_a_mail_server_mail_waits_and_says_why(settings):
    settings.MAIL_URL = ""
    delivery = invite()
    assert sending.sweep_deliveries() is False
    delivery = fresh(delivery)
    assert (delivery.state, delivery.reply_class) == ("queued", "no_mail_settings")


@pytest.mark.parametrize(
    ("answer", "state", "reply_class", "invitation"),
    [
        ("450 4.2.0 greylisted", "queued", "try_later", "queued"),
        ("452 4.2.2 mailbox full", "queued", "mailbox_full", "queued"),
        ("550 5.1.1 no such user", "failed", "no_such_address", "bounced"),
        ("550 not wanted here", "failed", "refused", "failed"),
        ("550 5.7.1 policy", "failed", "refused", "failed"),
    ],
)
def test_what_an_answer_to_the_recipient_means(server, answer, state, reply_class, invitation):
    server.sink.answer_rcpt = lambda address: answer
    delivery = invite()
    sending.sweep_deliveries()
    delivery = fresh(delivery)
    assert (delivery.state, delivery.reply_class, delivery.attempts) == (state, reply_class, 1)
    assert delivery.invitation.state == invitation
    assert server.sink.mails == []


@pytest.mark.parametrize(
    ("answer", "state", "reply_class"),
    [
        ("451 4.3.0 later", "queued", "try_later"),
        ("554 5.6.0 content", "failed", "refused"),
    ],
)
def test_what_an_answer_to_the_text_means(server, answer, state, reply_class):
    server.sink.answer_data = lambda mail: answer
    delivery = invite()
    sending.sweep_deliveries()
    delivery = fresh(delivery)
    assert (delivery.state, delivery.reply_class) == (state, reply_class)


def test_only_a_clear_permanent_code_suppresses_the_address(server):
    server.sink.answer_rcpt = lambda address: "550 5.1.1 no such user" if "gone" in address else "550 5.2.2 full"
    invite(email="gone@example.net")
    invite(email="full@example.net")
    sending.sweep_deliveries()
    assert list(Suppression.objects.values_list("address", "reason")) == [("gone@example.net", "bounced")]


def test_a_busy_server_pauses_its_domain_for_everybody(server):
    server.sink.answer_rcpt = lambda address: "421 4.3.2 closing" if "example.net" in address else "250 OK"
    first, other = invite(email="a@example.net"), invite(email="b@example.com")
    sending.sweep_deliveries()
    assert fresh(first).state == DeliveryState.QUEUED
    assert fresh(other).state == DeliveryState.SENT
    assert MailDomain.objects.get(domain="example.net").paused_until > timezone.now()
    late = invite(email="c@example.net")
    sending.sweep_deliveries()
    assert (fresh(late).state, fresh(late).attempts) == ("queued", 0)


def test_a_server_that_is_away_costs_no_attempt(settings):
    settings.MAIL_URL = "smtp://127.0.0.1:9?tls=none"
    delivery = invite()
    sending.sweep_deliveries()
    delivery = fresh(delivery)
    assert (delivery.state, delivery.attempts, delivery.reply_class) == ("queued", 0, "no_connection")
    assert MailDomain.objects.get(domain="").paused_until > timezone.now() + timedelta(seconds=2)
    assert sending.sweep_deliveries() is False  # paused: nobody knocks again at once


def test_withdrawn_before_the_claim_nothing_leaves(server):
    delivery = invite()
    make_consent(delivery.site, delivery.owner, "contact", "withdrawn")
    sending.sweep_deliveries()
    delivery = fresh(delivery)
    assert (delivery.state, delivery.reply_class) == ("stopped", "opted_out")
    assert (delivery.invitation.state, delivery.invitation.held_reason) == ("held", "opted_out")
    assert server.sink.mails == []


def test_withdrawn_between_recipient_and_text_nothing_leaves(server):
    """The withdrawal happens while the server answers RCPT TO."""
    delivery = invite()
    original = permit

    def withdrawn_first(claimed):
        ConsentStanding.objects.update(state="withdrawn")
        return original(claimed)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sending, "permit", withdrawn_first)
        sending.sweep_deliveries()
    assert fresh(delivery).state == DeliveryState.STOPPED
    assert server.sink.mails == []


def test_a_suppressed_address_is_not_written_to_whatever_its_letter_case(server):
    delivery = invite(email="Ines@Example.net")
    suppress(company=delivery.company, address="iNES@example.NET", reason="unsubscribed")
    sending.sweep_deliveries()
    delivery = fresh(delivery)
    assert (delivery.state, delivery.reply_class) == ("stopped", "opted_out")
    assert server.sink.mails == []


def test_account_and_safety_mail_needs_no_permission_and_passes_an_unsubscribe(server):
    delivery = invite(email="ines@example.net")
    suppress(company=delivery.company, address="ines@example.net", reason="unsubscribed")
    for stream in ("account", "safety"):
        queue_delivery(
            stream=stream, template="password_set", to_address="ines@example.net", language="en",
            company=delivery.company, owner=delivery.owner,
        )  # fmt: skip
    sending.sweep_deliveries()
    mails = server.sink.to("ines@example.net")
    assert len(mails) == 2
    assert all(mail.message["List-Unsubscribe"] is None for mail in mails)


def test_a_courtesy_needs_the_owners_own_yes(server):
    delivery = invite()
    courtesy = queue_delivery(
        stream="courtesy", template="owner_welcome", to_address="ines@example.net", language="en",
        company=delivery.company, owner=delivery.owner, site=delivery.site,
    )  # fmt: skip
    sending.sweep_deliveries()
    assert fresh(courtesy).state == DeliveryState.STOPPED
    make_consent(delivery.site, delivery.owner, "contact", "given", Evidence.PAPER_REFERENCE)
    again = queue_delivery(
        stream="courtesy", template="owner_welcome", to_address="ines@example.net", language="en",
        company=delivery.company, owner=delivery.owner, site=delivery.site,
    )  # fmt: skip
    sending.sweep_deliveries()
    assert fresh(again).state == DeliveryState.SENT


def test_stopped_before_it_leaves(server):
    delivery = invite()
    assert stop_queued(invitation=delivery.invitation) == 1
    sending.sweep_deliveries()
    assert fresh(delivery).state == DeliveryState.STOPPED
    assert server.sink.mails == []


def test_a_stale_claim_goes_back_and_a_stale_text_is_unknown_for_good(server):
    claimed, transmitting = invite(email="a@example.net"), invite(email="b@example.net")
    carried = {one.delivery.pk: one for one in claim_due(10)}
    assert permit(carried[transmitting.pk])
    Delivery.objects.update(claimed_until=timezone.now() - timedelta(seconds=1))
    assert recover_stale() == (1, 1)
    assert fresh(claimed).state == DeliveryState.QUEUED
    sending.sweep_deliveries()
    assert fresh(claimed).state == DeliveryState.SENT
    assert fresh(transmitting).state == DeliveryState.UNKNOWN
    assert server.sink.to("b@example.net") == []
    assert settle_by_opening(invitation=transmitting.invitation) == 1
    assert fresh(transmitting).state == DeliveryState.SENT


def test_a_lost_claim_gets_no_leave(server):
    invite()
    (carried,) = claim_due(10)
    Delivery.objects.update(claimed_until=timezone.now() - timedelta(seconds=1))
    recover_stale()
    (again,) = claim_due(10)
    assert permit(carried) is False
    assert permit(again) is True
    assert permit(again) is False


def test_an_address_that_needs_smtputf8_is_held_where_the_server_lacks_it(settings):
    smtp = SmtpServer(smtputf8=False)
    settings.MAIL_URL = smtp.url
    delivery = invite(email="inês@example.net")
    sending.sweep_deliveries()
    smtp.stop()
    delivery = fresh(delivery)
    assert (delivery.state, delivery.reply_class) == ("stopped", "needs_smtputf8")
    assert (delivery.invitation.state, delivery.invitation.held_reason) == ("held", "bad_address")


def test_an_address_with_a_non_ascii_local_part_leaves_where_smtputf8_is_offered(server):
    invite(email="inês@straße.example")
    sending.sweep_deliveries()
    (mail,) = server.sink.mails
    assert mail.recipients == ["inês@xn--strae-oqa.example"]


def test_quiet_hours_of_the_sites_zone_put_an_invitation_off_but_no_account_mail(server):
    delivery = invite()
    policy = delivery.company.policy
    clock = timezone.now().astimezone(delivery.site.zone)
    policy.quiet_from, policy.quiet_until = time(clock.hour), (clock + timedelta(hours=2)).time()
    policy.save()
    account = queue_delivery(
        stream="account", template="password_set", to_address="x@example.net", language="en", company=delivery.company
    )
    sending.sweep_deliveries()
    delivery = fresh(delivery)
    assert (delivery.state, delivery.reply_class, delivery.attempts) == ("queued", "quiet_hours", 0)
    assert delivery.not_before > timezone.now() + timedelta(minutes=30)
    assert fresh(account).state == DeliveryState.SENT


def test_the_daily_limit_of_a_company_holds(server):
    first = invite(email="a@example.net")
    policy = first.company.policy
    policy.daily_mail_limit = 1
    policy.save()
    actor = make_member(first.company)
    site = make_site(actor)
    person = make_owner(actor, site, email="b@example.net")
    make_contact_consent(actor, site, person)
    second = queue_invitation(actor=actor, site=site, owner=person).deliveries.get()
    elsewhere = invite(email="c@example.net")
    sending.sweep_deliveries()
    assert [fresh(one).state for one in (first, second, elsewhere)] == ["sent", "queued", "sent"]
    assert fresh(second).reply_class == "daily_limit"


def test_the_pace_to_one_domain_is_kept_and_does_not_hold_up_others(server, settings):
    settings.MAIL_DOMAIN_PACE = 6  # one at once, then one every ten seconds
    for number in range(4):
        invite(email=f"a{number}@slow.example")
    other = invite(email="b@quick.example")
    sending.sweep_deliveries(seconds=8)  # it ends as soon as nothing is due
    assert len([mail for mail in server.sink.mails if mail.recipients[0].endswith("slow.example")]) == 1
    assert fresh(other).state == DeliveryState.SENT


def test_after_the_give_up_age_it_fails(server):
    server.sink.answer_rcpt = lambda address: "451 4.3.0 later"
    delivery = invite()
    Delivery.objects.update(attempts=3, give_up_at=timezone.now() + timedelta(seconds=5))
    sending.sweep_deliveries()
    delivery = fresh(delivery)
    assert (delivery.state, delivery.reply_class) == ("failed", "gave_up")
    assert delivery.invitation.state == InvitationState.FAILED


def test_a_late_account_mail_is_not_sent_and_keeps_no_secret(server):
    delivery = queue_delivery(
        stream="account", template="member_invitation", to_address="x@example.net", language="en",
        context={"link": "https://example.org/secret"},
    )  # fmt: skip
    Delivery.objects.update(give_up_at=timezone.now() - timedelta(seconds=1))
    sending.sweep_deliveries()
    delivery = fresh(delivery)
    assert (delivery.state, delivery.reply_class, delivery.context) == ("failed", "too_late", {})
    assert server.sink.mails == []


def test_an_account_mails_secret_is_gone_once_it_is_sent(server):
    delivery = queue_delivery(
        stream="account", template="member_invitation", to_address="x@example.net", language="en",
        context={"link": "https://example.org/secret", "company": "C", "inviter": "I", "role": "office"},
    )  # fmt: skip
    sending.sweep_deliveries()
    assert "https://example.org/secret" in server.sink.mails[0].message.get_body(("plain",)).get_content()
    assert fresh(delivery).context == {}


def test_a_letter_that_cannot_be_written_is_kept_and_others_leave(server):
    broken = queue_delivery(stream="account", template="no_such", to_address="x@example.net", language="en")
    good = invite()
    sending.sweep_deliveries()
    assert (fresh(broken).state, fresh(broken).reply_class) == ("queued", "not_composed")
    assert fresh(good).state == DeliveryState.SENT


def test_a_mail_that_went_well_ends_its_domains_growing_pauses(server):
    invite(email="a@example.net")
    MailDomain.objects.create(domain="example.net", free_at=timezone.now(), refusals=3)
    sending.sweep_deliveries()
    assert MailDomain.objects.get(domain="example.net").refusals == 0


def test_queueing_the_same_send_twice_is_one_delivery():
    delivery = invite()
    again = queue_delivery(
        stream="invitation", template="invitation", to_address=delivery.to_address, language="en",
        company=delivery.company, invitation=delivery.invitation,
    )  # fmt: skip
    assert again.pk == delivery.pk
    assert Delivery.objects.count() == 1


def test_one_connection_carries_several_mails(server):
    hellos = []

    async def handle_EHLO(server, session, envelope, hostname, responses):  # noqa: N802  # the name is aiosmtpd's
        hellos.append(hostname)
        session.host_name = hostname
        return responses

    server.sink.handle_EHLO = handle_EHLO
    for number in range(12):
        invite(email=f"a{number}@example.net")
    sending.sweep_deliveries(seconds=60)  # it ends as soon as nothing is due
    assert len(server.sink.mails) == 12
    assert 1 <= len(hellos) <= 3


def test_one_letter_is_under_way_while_the_next_recipient_is_accepted(server, monkeypatch):
    """Between a text and its answer there is one letter of a process at most, and the others do not wait for it."""
    under_way, seen, recipients, second = [], [], [], threading.Event()

    def answer_rcpt(address: str) -> str:
        recipients.append(address)
        if len(recipients) == 2:
            second.set()
        return "250 OK"

    original = SmtpChannel.transmit

    def transmit(channel, letter):
        under_way.append(letter)
        seen.append(len(under_way))
        prepared_meanwhile = second.wait(20)
        outcome = original(channel, letter)
        under_way.remove(letter)
        assert prepared_meanwhile
        return outcome

    server.sink.answer_rcpt = answer_rcpt
    monkeypatch.setattr(SmtpChannel, "transmit", transmit)
    deliveries = [invite(email=f"a{number}@example.net") for number in range(6)]
    sending.sweep_deliveries(seconds=60)  # it ends as soon as nothing is due
    assert seen == [1] * 6
    assert {fresh(one).state for one in deliveries} == {"sent"}


def test_the_mailbox_of_the_demo_keeps_the_letter(settings, tmp_path):
    from onboarding.mail.mailbox import kept_letters

    settings.MAIL_URL = "mailbox:"
    settings.DATA_DIR = tmp_path
    delivery = invite(email="ines@example.net")
    sending.sweep_deliveries()
    (letter,) = kept_letters(tmp_path / "mailbox")
    assert letter.name == fresh(delivery).return_token
    assert letter.to == "ines@example.net"
    assert "/welcome/" in letter.text
    assert "/welcome/" in letter.html


def test_opting_out_stops_what_waits(server):
    delivery = invite()
    opt_out(delivery=delivery)
    sending.sweep_deliveries()
    assert server.sink.mails == []
    assert Invitation.objects.get().state == InvitationState.HELD
