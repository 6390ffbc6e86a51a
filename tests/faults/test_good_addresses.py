"""An address is written to no more only where enhanced code, reply code and words agree that it is not there.

The texts are ours, written after what servers were seen to answer (common practice, no source).
"""

from collections.abc import Iterator
from typing import Any

import pytest

from onboarding.models import Delivery, Invitation, Suppression
from onboarding.operations import sending
from onboarding.operations.bounces import take_in
from onboarding.operations.invitations import queue_invitation
from tests.factories import make_company, make_contact_consent, make_invitation, make_member, make_owner, make_site
from tests.onboarding.mail.test_reports import TOKEN, dsn
from tests.servers.smtp import SmtpServer

pytestmark = pytest.mark.django_db
FAILED = "Final-Recipient: rfc822; ines@example.net\nAction: failed\nStatus: {}\nDiagnostic-Code: smtp; {}\n"
GOOD = [
    ("5.1.1", "550 5.7.1 IP blacklisted"),
    ("5.1.1", "552 5.2.2 over quota"),
    ("5.1.1", "550 5.1.1 rejected, your IP 192.0.2.7 is on a block list"),
    ("5.1.1", "550 5.1.1 message blocked by policy"),
    ("5.1.1", "550 5.1.1 mailbox full"),
    ("5.1.1", "450 5.1.1 user unknown"),
    ("5.1.1", "554 5.1.1 transaction failed"),
    ("5.1.1", "550 5.1.1"),
    ("5.1.2", "550 5.1.2 sender domain does not exist"),
    ("5.1.1", "550 5.1.1 user unknown (temporarily, try again later)"),
    ("5.0.0", "550 5.7.1 no such user as far as spam goes"),
]
NOT_THERE = [
    ("5.1.1", "550 5.1.1 no such user"),
    ("5.0.0", "550 5.1.1 <ines@example.net>: Recipient address rejected: User unknown in relay recipient table"),
    ("5.1.2", "550 5.1.2 no such domain"),
    ("5.1.10", "556 5.1.10 Recipient address has null MX"),
    ("5.1.1", "550 user unknown"),
    ("5.1.1", "550 5.1.1 utilizador desconhecido"),
]


@pytest.fixture
def delivery() -> Delivery:
    """A sent invitation's delivery, whose reports come back to TOKEN."""
    actor = make_member()
    site = make_site(actor)
    invitation, _token = make_invitation(actor, site, make_owner(actor, site, email="ines@example.net"))
    sent = invitation.deliveries.get()
    Delivery.objects.filter(pk=sent.pk).update(return_token=TOKEN)
    return sent


@pytest.fixture
def server(settings: Any) -> Iterator[SmtpServer]:
    smtp = SmtpServer()
    settings.MAIL_URL = smtp.url
    settings.MAIL_TIMEOUT = 2
    yield smtp
    smtp.stop()


@pytest.mark.parametrize(("status", "said"), GOOD)
def test_fault_14_a_report_that_contradicts_itself_suppresses_nothing(delivery, status, said):
    take_in(dsn(FAILED.format(status, said)))
    assert (Invitation.objects.get().state, Suppression.objects.count()) == ("bounced", 0)


def test_fault_14_a_report_that_gives_no_reason_suppresses_nothing(delivery):
    take_in(dsn("Final-Recipient: rfc822; ines@example.net\nAction: failed\nStatus: 5.1.1\n"))
    assert (Invitation.objects.get().state, Suppression.objects.count()) == ("bounced", 0)


@pytest.mark.parametrize(("status", "said"), NOT_THERE)
def test_fault_14_a_report_that_agrees_with_itself_suppresses(delivery, status, said):
    take_in(dsn(FAILED.format(status, said)))
    assert Suppression.objects.get().reason == "bounced"


@pytest.mark.parametrize("said", sorted({said for _status, said in GOOD if said.startswith("55")}))
def test_fault_14_an_answer_that_contradicts_itself_suppresses_nothing(server, said):
    server.sink.answer_rcpt = lambda address: said
    actor = make_member(make_company())
    site = make_site(actor)
    owner = make_owner(actor, site, email="ines@example.net")
    make_contact_consent(actor, site, owner)
    queue_invitation(actor=actor, site=site, owner=owner)
    sending.sweep_deliveries()
    assert Delivery.objects.get().state == "failed"
    assert Suppression.objects.count() == 0
