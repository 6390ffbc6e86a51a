"""Owners are spoken to in their own language, whatever the browser asks for. The words are put in for the test."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import trans_real

from onboarding.mail.compose import write_letter
from onboarding.mail.return_path import leave_opaque
from onboarding.models import Delivery, Invitation
from onboarding.operations.acceptance import accept_invitation
from onboarding.operations.letters import letter_facts
from tests.factories import PASSWORD, make_contact_consent, make_invitation, make_member, make_owner, make_site

pytestmark = pytest.mark.django_db
WORDS = {
    "What you allow": "O que autoriza",
    "This invitation has run out": "Este convite expirou",
    "You have accepted already": "Já aceitou",
    "Your answers and your password": "As suas respostas",
    "No more mail?": "Não quer mais mensagens?",
    "%(company)s invites you": "%(company)s convida-o",
    "The password of your account was changed.": "A palavra-passe foi alterada.",
    "Measurements of your system": "Medições do seu sistema",
    "Print it now: the code is shown this once. Printing again makes another code and ends this one.": "ERRADO",
}


@pytest.fixture(autouse=True)
def portuguese() -> Iterator[None]:
    """Some words of a Portuguese catalogue."""
    translation: Any = trans_real.translation("pt")
    catalogue = translation._catalog._catalogs[0]
    catalogue.update(WORDS)
    yield
    for english in WORDS:
        del catalogue[english]


@pytest.fixture
def here():
    """A member who speaks English, a site, and an owner who speaks Portuguese."""
    member = make_member()
    site = make_site(member)
    return member, site, make_owner(member, site, language="pt", email="ines@example.net")


def says(answer, words: str) -> None:
    assert words in answer.content.decode()
    assert answer.headers["Content-Language"] == "pt"
    assert '<html lang="pt"' in answer.content.decode()


def letter_of(delivery: Delivery) -> str:
    return write_letter(letter_facts(delivery), timezone.now()).text


def test_every_page_of_the_owners_way_speaks_their_language(client, here):
    member, site, owner = here
    invitation, token = make_invitation(member, site, owner)
    page = reverse("onboarding:welcome", args=[token])
    says(client.post(page, {"act": "continue"}, follow=True), "As suas respostas")
    Invitation.objects.update(expires_at=timezone.now() - timedelta(days=1))
    says(client.get(page), "Este convite expirou")
    Invitation.objects.update(expires_at=timezone.now() + timedelta(days=1))
    delivery = Delivery.objects.get(invitation=invitation)
    opaque = leave_opaque(delivery.public_id, settings.SECRET_KEY)
    says(client.get(reverse("onboarding:leave", args=[opaque])), "Não quer")
    client.post(page, {"act": "accept", "password": PASSWORD})
    says(client.get(reverse("onboarding:my_site", args=[site.code])), "O que autoriza")
    says(client.get(page), "Já aceitou")


def test_a_printed_letter_speaks_to_the_owner_and_its_page_to_the_office(client, here):
    member, site, owner = here
    make_contact_consent(member, site, owner)
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    shown = client.post(reverse("onboarding:print_letter", args=[site.code, owner.public_id])).content.decode()
    assert "Telhado Claro convida-o" in shown
    assert "Print it now" in shown


def test_receipts_and_notices_come_in_the_owners_language(client, here):
    member, site, owner = here
    _invitation, token = make_invitation(member, site, owner)
    user = accept_invitation(token=token, password=PASSWORD, choices={"monitoring": True}).user
    assert user.language == "pt"
    assert "Medições do seu sistema" in letter_of(Delivery.objects.get(stream="receipt"))
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    changed = {"oldpassword": PASSWORD} | dict.fromkeys(("password1", "password2"), "seven quails at the gate")
    assert client.post(reverse("account_change_password"), changed).status_code == 302
    assert "A palavra-passe foi alterada." in letter_of(Delivery.objects.get(template="account_notice"))
