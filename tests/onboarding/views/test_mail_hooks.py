"""A provider's webhook: there only with a provider and a secret, and it changes only what its token names."""

from __future__ import annotations

import base64
import json
from typing import Any

import pytest
from django.test import Client

from onboarding.models import ConsentStanding, Delivery, DeliveryState, Invitation, MailReport, Suppression
from tests.factories import make_invitation, make_member, make_owner, make_site
from tests.onboarding.mail.test_reports import TOKEN

pytestmark = pytest.mark.django_db


@pytest.fixture
def invitation() -> Any:
    actor = make_member()
    site = make_site(actor)
    made, _token = make_invitation(actor, site, make_owner(actor, site, email="ines@example.net"))
    Delivery.objects.update(return_token=TOKEN)
    return made


@pytest.fixture(autouse=True)
def _provider(settings: Any) -> None:
    settings.MAIL_URL = "anymail://postmark?server_token=x"
    settings.MAIL_HOOK_SECRET = "hook:a secret"


def post(secret: str = "hook:a secret", provider: str = "postmark", **event: Any) -> int:
    given = {"RecordType": "Bounce", "ID": 1, "Type": "HardBounce", "Email": "ines@example.net", "MessageID": "m"}
    body = given | {"Metadata": {"return": TOKEN}, "Details": "smtp;550 5.1.1 no such user"} | event
    header = "Basic " + base64.b64encode(secret.encode()).decode()
    response = Client(enforce_csrf_checks=True).post(
        f"/mail/hooks/{provider}", json.dumps(body), content_type="application/json", headers={"Authorization": header}
    )
    return response.status_code


def state() -> str:
    return Invitation.objects.get().state


def test_a_bounce_ends_the_invitation_once(invitation):
    assert [post(), post()] == [200, 200]
    assert state() == "bounced"
    assert Suppression.objects.get().reason == "bounced"
    assert MailReport.objects.count() == 1


def test_a_complaint_ends_the_invitation(invitation):
    assert post(RecordType="SpamComplaint", Type="SpamComplaint") == 200
    assert state() == "complained"


LEFT: dict[str, Any] = {
    "RecordType": "SubscriptionChange", "SuppressSending": True, "SuppressionReason": "ManualSuppression",
    "Recipient": "ines@example.net", "ChangedAt": "2026-06-01T12:00:00Z",
}  # fmt: skip
DELIVERED: dict[str, Any] = {
    "RecordType": "Delivery",
    "DeliveredAt": "2026-06-01T12:00:00Z",
    "Recipient": "ines@example.net",
}


def test_a_rejected_mail_ends_the_invitation_and_leaves_the_address_alone(invitation):
    assert post(Type="Blocked", Details="smtp;550 5.7.1 not from there") == 200
    assert state() == "bounced"
    assert Delivery.objects.get().state == DeliveryState.FAILED
    assert not Suppression.objects.exists()


def test_a_deferred_mail_changes_nothing_but_is_kept(invitation):
    assert post(Type="Transient", Details="smtp;451 4.3.0 later") == 200
    assert (state(), Delivery.objects.get().state) == ("sent", "sent")
    assert MailReport.objects.get().outcomes == ["delayed"]


def test_a_delivered_mail_settles_an_unknown_one(invitation):
    Delivery.objects.update(state=DeliveryState.UNKNOWN)
    Invitation.objects.update(state="queued")
    assert post(**DELIVERED) == 200
    assert (state(), Delivery.objects.get().state) == ("sent", "sent")


def test_an_unsubscribe_is_the_one_click_opt_out(invitation):
    assert [post(**LEFT), post(**LEFT)] == [200, 200]
    assert ConsentStanding.objects.get().state == "withdrawn"
    assert Suppression.objects.get().reason == "unsubscribed"
    assert MailReport.objects.count() == 1


def test_who_subscribes_again_at_the_provider_lifts_nothing_here(invitation):
    post(**LEFT)
    assert post(**LEFT | {"SuppressSending": False, "ChangedAt": "2026-06-02T12:00:00Z"}) == 200
    assert ConsentStanding.objects.get().state == "withdrawn"
    assert Suppression.objects.get().lifted_at is None


@pytest.mark.parametrize("event", [{}, {"RecordType": "SpamComplaint", "Type": "SpamComplaint"}, LEFT])
def test_another_companys_mail_to_the_same_address_is_never_touched(invitation, event):
    actor = make_member()
    site = make_site(actor)
    other, _token = make_invitation(actor, site, make_owner(actor, site, email="ines@example.net"))
    assert post(**event) == 200
    other.refresh_from_db()
    assert other.state == "sent"
    assert other.deliveries.get().state == DeliveryState.SENT
    assert ConsentStanding.objects.get(site=site).state == "given"
    assert not Suppression.objects.filter(company=actor.company).exists()
    assert not MailReport.objects.filter(delivery__company=actor.company).exists()


def test_a_provider_that_keeps_our_token_to_itself_is_matched_by_its_own_name(invitation):
    Delivery.objects.update(provider_id="m-7")
    assert post(Metadata={}, MessageID="m-8") == 200
    assert state() == "sent"
    assert post(Metadata={}, MessageID="m-7") == 200
    assert state() == "bounced"


def test_a_wrong_token_is_not_made_good_by_the_providers_name(invitation):
    Delivery.objects.update(provider_id="m-7")
    assert post(Metadata={"return": "f" * 32}, MessageID="m-7") == 200
    assert state() == "sent"


@pytest.mark.parametrize(
    "event",
    [
        {"Metadata": {"return": "f" * 32}},
        {"Metadata": {}},
        {"RecordType": "Open", "Type": None},
        DELIVERED,
    ],
)
def test_what_changes_nothing(invitation, event):
    assert post(**event) == 200
    assert state() == "sent"


@pytest.mark.parametrize("secret", ["hook:guessed", "hook:", ":a secret", "", "hook:a secret "])
def test_a_wrong_secret_is_refused(invitation, secret):
    assert [post(secret=secret), post(secret=secret, **LEFT)] == [400, 400]
    assert state() == "sent"
    assert ConsentStanding.objects.get().state == "given"
    assert not MailReport.objects.exists()


@pytest.mark.parametrize(
    ("setting", "value"),
    [("MAIL_HOOK_SECRET", ""), ("MAIL_URL", "smtp://127.0.0.1"), ("MAIL_URL", "anymail://mailgun?api_key=x")],
)
def test_without_provider_or_secret_it_is_not_there(invitation, settings, setting, value):
    setattr(settings, setting, value)
    assert post() == 404
    assert state() == "sent"
