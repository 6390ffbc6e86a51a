"""The main job over HTTP, from the roof to the owner's own page, on whichever database the run is on."""

import pytest
from django.core.management import call_command
from pytest_django import Settings
from pytest_django.live_server_helper import LiveServer

from fleet.models import Placement, Role, Scan
from onboarding.management.demo.people import SignIn
from onboarding.management.demo.story import Job, link_in
from onboarding.models import ConsentEntry, Delivery, Invitation
from onboarding.tasks import sweep_deliveries
from tests.factories import PASSWORD, make_user
from tests.flows.people import company_with
from tests.servers.smtp import SmtpServer

pytestmark = pytest.mark.slow


@pytest.mark.django_db(transaction=True)
def test_the_whole_job(live_server: LiveServer, settings: Settings):
    mail = SmtpServer()
    settings.BASE_URL, settings.MAIL_URL = live_server.url, mail.url
    member = company_with(make_user("ines@example.org", password=PASSWORD), Role.FIELD)
    told: list[str] = []

    def deliver(address: str) -> str:
        sweep_deliveries()
        received = mail.sink.to(address)
        return link_in(received[0].message.get_body(("plain",)).get_content()) if received else ""

    try:
        job = Job(live_server.url, SignIn("Inês", member.user.email, PASSWORD), 1, told.append, find_link=deliver)
        assert job.run(), "\n".join(told)
    finally:
        mail.stop()
    assert len(told) == 13
    assert Placement.objects.get(until=None).site.code == job.code
    assert Scan.objects.get().outcome == "linked"
    invitation = Invitation.objects.get()
    assert invitation.state == "accepted"
    assert Delivery.objects.filter(invitation=invitation).get().state == "sent"
    assert ConsentEntry.objects.filter(evidence="owner_online").count() == 3
    call_command("verify_consents")
