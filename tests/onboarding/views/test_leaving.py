"""One-click unsubscribe as RFC 8058 writes it (section 3.1 and the example of section 8.2)."""

from __future__ import annotations

import pytest
from django.conf import settings
from django.test import Client

from onboarding.mail.return_path import leave_opaque
from onboarding.models import ConsentEntry, ConsentStanding, Suppression
from tests.factories import make_invitation, make_member, make_owner, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def delivery():
    actor = make_member()
    site = make_site(actor)
    invitation, _token = make_invitation(actor, site, make_owner(actor, site, email="ines@example.net"))
    return invitation.deliveries.get()


def url(delivery) -> str:
    return f"/leave/{leave_opaque(delivery.public_id, settings.SECRET_KEY)}"


def standing() -> str:
    return ConsentStanding.objects.get().state


@pytest.mark.parametrize("method", ["get", "head"])
def test_looking_changes_nothing(delivery, method):
    response = getattr(Client(), method)(url(delivery))
    assert response.status_code == 200
    assert "no-store" in response["Cache-Control"]
    assert standing() == "given"
    assert not Suppression.objects.exists()


@pytest.mark.parametrize(
    ("content_type", "body"),
    [
        ("application/x-www-form-urlencoded", "List-Unsubscribe=One-Click"),
        (
            "multipart/form-data; boundary=---FormBoundaryjWmhtjORrn",
            "-----FormBoundaryjWmhtjORrn\r\n"
            'Content-Disposition: form-data; name="List-Unsubscribe"\r\n\r\n'
            "One-Click\r\n"
            "-----FormBoundaryjWmhtjORrn--\r\n",
        ),
    ],
)
def test_the_post_of_rfc_8058_needs_no_cookies_and_is_not_redirected(delivery, content_type, body):
    client = Client(enforce_csrf_checks=True)
    response = client.post(url(delivery), body, content_type=content_type)
    assert response.status_code == 200
    assert not response.cookies
    assert standing() == "withdrawn"
    assert Suppression.objects.get().reason == "unsubscribed"


def test_a_second_click_changes_nothing_more(delivery):
    for _click in range(2):
        assert Client().post(url(delivery), {"List-Unsubscribe": "One-Click"}).status_code == 200
    assert Suppression.objects.count() == 1
    assert ConsentEntry.objects.filter(state="withdrawn").count() == 1


def test_a_post_that_is_not_the_one_of_rfc_8058_is_refused(delivery):
    assert Client().post(url(delivery), {"something": "else"}).status_code == 400
    assert standing() == "given"


@pytest.mark.parametrize("spoil", [lambda text: text[:-1], lambda text: "A" * 43, lambda text: "é" * 5])
def test_a_guessed_link_is_not_there(delivery, spoil):
    path, _slash, opaque = url(delivery).rpartition("/")
    response = Client().post(f"{path}/{spoil(opaque)}", {"List-Unsubscribe": "One-Click"})
    assert response.status_code == 404
    assert standing() == "given"


def test_the_opaque_of_one_delivery_says_nothing_of_another(delivery):
    opaque = leave_opaque(delivery.public_id, settings.SECRET_KEY)
    assert str(delivery.public_id) not in opaque
    assert leave_opaque(delivery.public_id, "another key of this installation") != opaque
