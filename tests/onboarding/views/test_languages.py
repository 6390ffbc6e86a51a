"""Owners are spoken to in their own language where the house speaks it wholly, whatever the browser asks for.

Portuguese words are put in for the tests that need another language.
"""

import re
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import trans_real

from fleet.spoken import SOURCE, spoken
from onboarding.mail.compose import write_letter
from onboarding.mail.return_path import leave_opaque
from onboarding.models import Delivery, Invitation
from onboarding.operations.acceptance import accept_invitation
from onboarding.operations.letters import letter_facts
from tests.factories import PASSWORD, make_contact_consent, make_invitation, make_member, make_owner, make_site

pytestmark = pytest.mark.django_db
WORDS = {
    "What you allowed": "O que autorizou",
    "This invitation has run out": "Este convite expirou",
    "You have accepted already": "Já aceitou",
    "Three questions and a password": "Três perguntas",
    "No more mail?": "Não quer mais mensagens?",
    "%(company)s invites you": "%(company)s convida-o",
    "The password of your account was changed.": "A palavra-passe foi alterada.",
    "Measurements of your system": "Medições do seu sistema",
    "Print it now: the code is shown this once. Printing again makes another code and ends this one.": "ERRADO",
}


@pytest.fixture
def portuguese(settings) -> Iterator[None]:
    """Portuguese is offered, with some words of a catalogue."""
    settings.LANGUAGES = [*settings.LANGUAGES, ("pt", "Portuguese")]
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


@pytest.mark.usefixtures("portuguese")
def test_every_page_of_the_owners_way_speaks_their_language(client, here):
    member, site, owner = here
    invitation, token = make_invitation(member, site, owner)
    page = reverse("onboarding:welcome", args=[token])
    says(client.post(page, {"act": "continue"}, follow=True), "Três perguntas")
    Invitation.objects.update(expires_at=timezone.now() - timedelta(days=1))
    says(client.get(page), "Este convite expirou")
    Invitation.objects.update(expires_at=timezone.now() + timedelta(days=1))
    delivery = Delivery.objects.get(invitation=invitation)
    opaque = leave_opaque(delivery.public_id, settings.SECRET_KEY)
    says(client.get(reverse("onboarding:leave", args=[opaque])), "Não quer")
    client.post(page, {"act": "accept", "password": PASSWORD})
    says(client.get(reverse("onboarding:my_site", args=[site.code])), "O que autorizou")
    says(client.get(page), "Já aceitou")


@pytest.mark.usefixtures("portuguese")
def test_a_printed_letter_speaks_to_the_owner_and_its_page_to_the_office(client, here):
    member, site, owner = here
    make_contact_consent(member, site, owner)
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    shown = client.post(reverse("onboarding:print_letter", args=[site.code, owner.public_id])).content.decode()
    assert "Telhado Claro convida-o" in shown
    assert "Print it now" in shown


@pytest.mark.usefixtures("portuguese")
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


def test_without_a_catalogue_pages_and_mails_are_english_and_the_texts_keep_their_language(client, here):
    member, site, owner = here
    _invitation, token = make_invitation(member, site, owner)
    page = reverse("onboarding:welcome", args=[token])
    asked = client.post(page, {"act": "continue"}, follow=True, headers={"accept-language": "pt"})
    shown = asked.content.decode()
    assert asked.headers["Content-Language"] == "en"
    assert '<html lang="en"' in shown
    assert re.search(r'<p lang="pt">[^<]*Telhado Claro', shown), "the Portuguese text is marked as such"
    for delivery in Delivery.objects.all():
        letter = write_letter(letter_facts(delivery), timezone.now())
        assert letter.language == "en"
        assert '<html lang="en">' in letter.html
    user = accept_invitation(token=token, password=PASSWORD, choices={"monitoring": True}).user
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    mine = client.get(reverse("onboarding:my_site", args=[site.code]), headers={"accept-language": "pt-BR,pt"})
    assert '<html lang="en"' in mine.content.decode()
    assert mine.headers["Content-Language"] == "en"
    assert 'lang="pt"' in mine.content.decode()


def test_every_language_that_is_offered_has_its_whole_catalogue():
    for code, _name in settings.LANGUAGES:
        if code == SOURCE:
            continue
        catalogue = Path(settings.LOCALE_PATHS[0]) / code / "LC_MESSAGES" / "django.po"
        assert catalogue.exists(), f"{code} is offered without a catalogue"
        assert not re.search(r'^msgstr(\[\d\])? ""\n\n', catalogue.read_text() + "\n", re.MULTILINE), code


@pytest.mark.parametrize(("preferred", "language"), [("pt", "en"), ("en-GB", "en"), ("", "en"), ("en", "en")])
def test_what_the_house_does_not_speak_is_english(preferred: str, language: str):
    assert spoken(preferred) == language


def test_invitation_pages_and_mails_promise_no_papers(client, here):
    member, site, owner = here
    make_contact_consent(member, site, owner)
    invitation, token = make_invitation(member, site, owner)
    page = client.get(reverse("onboarding:welcome", args=[token]))
    assert page.status_code == 200
    told = [page.content.decode(), letter_of(Delivery.objects.get(invitation=invitation))]
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    printed = client.post(reverse("onboarding:print_letter", args=[site.code, owner.public_id]))
    assert printed.status_code == 200
    told.append(printed.content.decode())
    assert not [text for text in told if "papers" in text]
