"""The link of the invitation: what it shows, what it changes, and what it refuses."""

import pytest
from django.test import Client
from django.urls import reverse

from fleet.models import User
from onboarding.models import ConsentEntry, Delivery, Invitation, InvitationState
from onboarding.operations.invitations import print_letter
from tests.factories import make_contact_consent, make_invitation, make_member, make_owner, make_site

pytestmark = pytest.mark.django_db
SECRET = "ochre gate seven quails"


@pytest.fixture
def invited():
    member = make_member()
    site = make_site(member, house_number="12", postcode="8800-321")
    owner = make_owner(member, site, name="Inês Exemplo", email="ines@example.net")
    return make_invitation(member, site, owner)


def page(token: str) -> str:
    return reverse("onboarding:welcome", args=[token])


def go_on(client: Client, token: str):
    return client.post(page(token), {"act": "continue"}, follow=True)


def accept(client: Client, token: str, **form: str):
    go_on(client, token)
    return client.post(page(token), {"act": "accept", "password": SECRET, **form})


def test_four_steps_from_the_mail_to_my_site(client, invited):
    invitation, token = invited
    shown = client.get(page(token))
    assert shown.status_code == 200
    assert b"Rua das Amendoeiras" in shown.content
    form = go_on(client, token).content.decode()
    assert form.count('type="radio"') == 6
    assert "checked" not in form
    answered = accept(client, token, monitoring="yes")
    invitation.refresh_from_db()
    assert (answered.status_code, invitation.state) == (302, InvitationState.ACCEPTED)
    site = client.get(answered["Location"])
    assert site.status_code == 200
    said = dict(ConsentEntry.objects.filter(evidence="owner_online").values_list("purpose", "state"))
    assert said == {"monitoring": "given", "home_network": "refused", "contact": "refused"}
    assert User.objects.get(email="ines@example.net").check_password(SECRET)


def test_the_page_before_shows_street_and_town_only(client, invited):
    invitation, token = invited
    for shown in (client.get(page(token)), go_on(client, token)):
        text = shown.content.decode()
        for hidden in ("Inês", "ines@", "8800-321", "Amendoeiras 12", invitation.site.written_code):
            assert hidden not in text


@pytest.mark.parametrize("method", ["get", "head"])
def test_scanners_that_open_the_link_change_nothing(client, invited, method):
    invitation, token = invited
    before = Invitation.objects.values().get(), invitation.events.count()
    for _ in range(3):
        answer = getattr(client, method)(page(token))
    assert answer.status_code == 200
    assert (Invitation.objects.values().get(), invitation.events.count()) == before
    assert answer["Cache-Control"] == "no-store"
    assert answer["Referrer-Policy"] == "no-referrer, strict-origin"
    assert "noindex" in answer["X-Robots-Tag"]


def test_the_page_costs_few_queries(client, invited, django_assert_max_num_queries):
    _invitation, token = invited
    with django_assert_max_num_queries(14):
        client.get(page(token))
    go_on(client, token)
    with django_assert_max_num_queries(14) as counted:
        client.get(page(token))
    assert len(counted) > 0


def test_a_form_shows_the_whole_sentence_of_a_refusal(client):
    member = make_member()
    site = make_site(member)
    owner = make_owner(member, site)
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    url = reverse("onboarding:record_consent", args=[site.code, owner.public_id])
    answer = client.post(url, {"purpose": "contact", "state": "given", "how": "paper_reference"})
    assert answer.status_code == 422
    assert answer.context["form"].errors["reference"] == ["Give the reference that the paper can be found by."]


def test_an_owner_without_an_address_types_one_that_mail_can_be_sent_to(client):
    member = make_member()
    site = make_site(member)
    owner = make_owner(member, site, email="")
    make_contact_consent(member, site, owner)
    _invitation, code = print_letter(actor=member, site=site, owner=owner)
    refused = accept(client, code, email="ines@host.invalid")
    assert refused.status_code == 422
    assert len(refused.context["form"].errors["email"]) == 1
    assert accept(client, code, email="inês@straße.example").status_code == 302
    assert User.objects.get(owners=owner).email.endswith("@letter.invalid")  # until the mailbox answers
    mail = Delivery.objects.get(template="address_confirm")
    assert mail.to_address == "inês@straße.example"
    Client().post(mail.context["link"].removeprefix("http://127.0.0.1:8000"))
    assert User.objects.get(owners=owner).email == "inês@straße.example"
