"""Old invitations and their links lead to what stands now, for the owner and for the office."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from onboarding.models import Delivery, Invitation, InvitationLink
from onboarding.operations.acceptance import accept_invitation
from onboarding.operations.invitation_links import mint_link
from onboarding.operations.invitation_sweep import expire_due
from onboarding.operations.invitations import cancel_invitation, resend_invitation
from tests.factories import PASSWORD, make_invitation, make_member, make_owner, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def member():
    return make_member()


@pytest.fixture
def sent(member):
    site = make_site(member)
    return make_invitation(member, site, make_owner(member, site))


def run_out() -> None:
    """The latest invitation's time is over, and no link was made within the hour."""
    latest = Invitation.objects.latest("id")
    Invitation.objects.filter(pk=latest.pk).update(expires_at=timezone.now() - timedelta(days=1))
    expire_due()
    InvitationLink.objects.update(made_at=timezone.now() - timedelta(hours=2))


def renew(client, token):
    answer = client.post(reverse("onboarding:welcome", args=[token]), {"act": "renew"})
    assert answer.status_code == 200
    return answer.content


def test_the_first_link_renews_whatever_came_after_it(client, sent):
    _invitation, token = sent
    answers = set()
    for round_number in range(3):
        run_out()
        answers.add(renew(client, token))
        assert Invitation.objects.count() == 2 + round_number
        assert Invitation.objects.latest("id").state == "queued"
    assert answers == {renew(client, "nobody-ever-had-this-link")}


def test_a_lost_mail_of_the_successor_is_sent_anew_from_the_old_link(client, sent):
    _invitation, token = sent
    run_out()
    renew(client, token)
    latest = Invitation.objects.latest("id")
    mint_link(invitation=latest, send_number=latest.send_number)
    Invitation.objects.filter(pk=latest.pk).update(state="sent")
    before = Delivery.objects.count()
    renew(client, token)
    assert Delivery.objects.count() == before, "at most once an hour"
    InvitationLink.objects.update(made_at=timezone.now() - timedelta(hours=2))
    renew(client, token)
    assert Delivery.objects.count() == before + 1


def test_nothing_is_renewed_once_the_successor_was_accepted_or_called_off(client, member, sent):
    _invitation, token = sent
    run_out()
    renew(client, token)
    latest = Invitation.objects.latest("id")
    link = mint_link(invitation=latest, send_number=latest.send_number)
    accept_invitation(token=link, password=PASSWORD, choices={"contact": True})
    InvitationLink.objects.update(made_at=timezone.now() - timedelta(hours=2))
    before = Delivery.objects.count()
    renew(client, token)
    assert (Invitation.objects.count(), Delivery.objects.count()) == (2, before)


def test_the_office_is_led_from_an_old_invitation_to_the_one_that_stands(client, member, sent):
    old, _token = sent
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    run_out()
    act = reverse("onboarding:act_on_invitation", args=[old.public_id])
    answer = client.post(act, {"act": "resend"})
    later = Invitation.objects.latest("id")
    assert later.pk != old.pk
    there = reverse("onboarding:invitation", args=[later.public_id])
    assert answer["Location"] == there
    assert there in client.get(reverse("onboarding:invitation", args=[old.public_id])).content.decode()
    assert "A later invitation" not in client.get(there).content.decode()
    assert client.post(act, {"act": "resend"})["Location"] == there


def test_each_kind_of_closed_link_has_its_own_page(client, member, sent):
    invitation, token = sent
    page = reverse("onboarding:welcome", args=[token])
    told = {}
    told["unknown"] = client.get(reverse("onboarding:welcome", args=["a-link-that-nobody-had"]))
    resend_invitation(actor=member, invitation=invitation)
    told["replaced"] = client.get(page)
    run_out()
    told["expired"] = client.get(page)
    Invitation.objects.update(state="sent", expires_at=timezone.now() + timedelta(days=1), ended_at=None)
    link = mint_link(invitation=invitation, send_number=2)
    accept_invitation(token=link, password=PASSWORD, choices={"contact": True})
    told["used"] = client.get(page)
    Invitation.objects.update(state="sent")
    cancel_invitation(actor=member, invitation=invitation)
    told["ended"] = client.get(page)
    headings = {name: answer.content.decode().partition("<h1>")[2].partition("<")[0] for name, answer in told.items()}
    assert headings == {
        "unknown": "This link leads nowhere",
        "replaced": "There is a newer link",
        "expired": "This invitation has run out",
        "used": "You have accepted already",
        "ended": "This invitation was called off",
    }
    assert {name for name, answer in told.items() if b'value="renew"' in answer.content} == {
        "unknown", "replaced", "expired",
    }  # fmt: skip
