"""Several invitations at once: a press first says what it will do to how many, and does nothing yet."""

import re

import pytest

from fleet.models import AuditEntry
from onboarding.models import Delivery, Invitation
from onboarding.operations.invitations import cancel_invitation
from tests.factories import make_invitation, make_member, make_owner, make_site

pytestmark = pytest.mark.django_db

PATH = "/invitations/several"


@pytest.fixture
def member(client):
    member = make_member()
    client.force_login(member.user)
    return member


def invited(member, name: str) -> Invitation:
    site = make_site(member)
    return make_invitation(member, site, make_owner(member, site, name=name))[0]


def press(client, act: str, *chosen: Invitation, **more: str):
    ids = [str(each.public_id) for each in chosen]
    return client.post(PATH, {"act": act, "show": "waiting", "invitation": ids} | more)


def states() -> list[str]:
    return list(Invitation.objects.order_by("id").values_list("state", flat=True))


@pytest.mark.parametrize("act", ["remind", "resend", "cancel"])
def test_the_first_press_changes_nothing(client, member, act):
    chosen = [invited(member, "Rosa Primeira"), invited(member, "Rui Segundo")]
    before = (list(Invitation.objects.order_by("id").values()), Delivery.objects.count(), AuditEntry.objects.count())
    answer = press(client, act, *chosen)
    assert answer.status_code == 200
    assert "Rosa Primeira" in answer.content.decode()
    assert before == (
        list(Invitation.objects.order_by("id").values()), Delivery.objects.count(), AuditEntry.objects.count(),
    )  # fmt: skip


def test_calling_off_says_how_many_and_why_not_and_is_done_once_confirmed(client, member):
    open_one, other, ended = (invited(member, name) for name in ("Rosa Primeira", "Rui Segundo", "Zita Terceira"))
    cancel_invitation(actor=member, invitation=ended)
    asked = re.sub(r"\s+", " ", press(client, "cancel", open_one, other, ended).content.decode())
    assert "2 invitations are called off" in asked
    assert "Call off 2 invitations" in asked
    assert "Zita Terceira" not in asked
    assert "<b>1</b> ·" in asked
    assert press(client, "cancel", open_one, other, sure="yes").status_code == 302
    assert states() == ["cancelled"] * 3
    assert "Done for 2." in client.get("/invitations/?show=waiting").content.decode()


def test_nothing_chosen_does_nothing_and_says_so(client, member):
    invited(member, "Rosa Primeira")
    answer = press(client, "cancel")
    assert answer.status_code == 302
    assert "nothing was done" in client.get(answer["Location"]).content.decode()


def test_what_cannot_be_done_for_any_offers_no_button(client, member):
    ended = invited(member, "Zita Terceira")
    cancel_invitation(actor=member, invitation=ended)
    asked = press(client, "remind", ended).content.decode()
    assert "Nothing can be done" in asked
    assert 'name="sure"' not in asked


def test_anothers_invitations_are_not_there(client, member):
    theirs = invited(make_member(), "Rosa Primeira")
    assert "Rosa Primeira" not in press(client, "cancel", theirs).content.decode()
    press(client, "cancel", theirs, sure="yes")
    assert states() == [theirs.state]
