"""A provider's webhook: there only with a provider and a secret, and it changes only what its token names."""

from __future__ import annotations

import base64
import json
from typing import Any

import pytest
from django.test import Client

from onboarding.models import Delivery, Invitation, MailReport, Suppression
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


@pytest.mark.parametrize(
    "event",
    [
        {"Metadata": {"return": "f" * 32}},
        {"Metadata": {}},
        {"RecordType": "Open", "Type": None},
        {"RecordType": "Delivery", "DeliveredAt": "2026-06-01T12:00:00Z", "Recipient": "ines@example.net"},
    ],
)
def test_what_changes_nothing(invitation, event):
    assert post(**event) == 200
    assert state() == "sent"


def test_a_wrong_secret_is_refused(invitation):
    assert post(secret="hook:guessed") == 400
    assert state() == "sent"


@pytest.mark.parametrize(
    ("setting", "value"),
    [("MAIL_HOOK_SECRET", ""), ("MAIL_URL", "smtp://127.0.0.1"), ("MAIL_URL", "anymail://mailgun?api_key=x")],
)
def test_without_provider_or_secret_it_is_not_there(invitation, settings, setting, value):
    setattr(settings, setting, value)
    assert post() == 404
    assert state() == "sent"
