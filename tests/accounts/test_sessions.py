"""Whoever came by a mailed link is on the list of sessions, and goes with the others."""

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from fleet.models import Member, MemberInvitation, Role
from fleet.operations.members import token_hash
from tests.factories import PASSWORD, make_invitation, make_member, make_owner, make_site, make_user

pytestmark = pytest.mark.django_db
CHOSEN = "seven quiet tiles on a roof"
SESSIONS = "/accounts/sessions/"


@pytest.fixture
def administrator() -> Member:
    return make_member(role=Role.ADMINISTRATOR)


def _offered(administrator: Member, email: str = "nova@example.org") -> str:
    MemberInvitation.objects.create(
        company=administrator.company, email=email, role=Role.FIELD, token_hash=token_hash("the-link"),
        invited_by=administrator, expires_at=timezone.now() + timedelta(days=1),
    )  # fmt: skip
    return "/join/the-link"


def _joined(administrator: Member) -> Client:
    client = Client(headers={"user-agent": "the telephone"})
    assert client.post(_offered(administrator), {"name": "Nova", "password": CHOSEN}).status_code == 302
    assert client.get("/").status_code == 200
    return client


def _signed_in(email: str, password: str = CHOSEN) -> Client:
    client = Client()
    assert client.post("/accounts/login/", {"login": email, "password": password}).status_code == 302
    assert client.get(SESSIONS).status_code == 200
    return client


def _is_out(client: Client, page: str = "/") -> bool:
    return "/accounts/login/" in client.get(page).headers.get("Location", "")


def test_a_session_made_by_joining_is_listed_and_ends_from_elsewhere(administrator: Member):
    telephone = _joined(administrator)
    desk = _signed_in("nova@example.org")
    assert desk.get(SESSIONS).context["session_count"] == 2
    assert desk.post(SESSIONS).status_code == 302
    assert _is_out(telephone)
    assert not _is_out(desk)


def test_a_member_who_joined_with_the_account_they_had_is_listed_once(administrator: Member):
    make_user("nova@example.org", password=CHOSEN)
    telephone = _signed_in("nova@example.org")
    assert telephone.post(_offered(administrator)).status_code == 302
    assert telephone.get(SESSIONS).context["session_count"] == 1
    _signed_in("nova@example.org").post(SESSIONS)
    assert _is_out(telephone)


def test_a_removed_member_is_out_wherever_they_came_in(administrator: Member):
    telephone = _joined(administrator)
    administrators = Client()
    administrators.force_login(administrator.user)
    nova = Member.objects.get(user__email="nova@example.org")
    assert administrators.post(f"/members/{nova.public_id}/deactivate").status_code == 302
    assert _is_out(telephone)


def test_a_session_on_no_list_goes_with_the_others(administrator: Member):
    user = make_user("rui@example.org", password=PASSWORD)
    unlisted = Client()
    unlisted.force_login(user)
    assert not _is_out(unlisted, SESSIONS)
    _signed_in("rui@example.org", PASSWORD).post(SESSIONS)
    assert _is_out(unlisted, SESSIONS)


def test_an_owners_first_session_is_listed_and_ends_from_elsewhere(administrator: Member):
    site = make_site(administrator)
    _invitation, token = make_invitation(administrator, site, make_owner(administrator, site, email="ines@example.net"))
    telephone = Client(headers={"user-agent": "the telephone"})
    assert telephone.post(f"/welcome/{token}", {"act": "accept", "password": CHOSEN}).status_code == 302
    desk = _signed_in("ines@example.net")
    assert desk.get(SESSIONS).context["session_count"] == 2
    desk.post(SESSIONS)
    assert _is_out(telephone, "/mine/")


def test_a_new_password_ends_the_session_made_by_joining(administrator: Member):
    telephone = _joined(administrator)
    desk = _signed_in("nova@example.org")
    changed = {"oldpassword": CHOSEN, "password1": PASSWORD, "password2": PASSWORD}
    assert desk.post("/accounts/password/change/", changed).status_code == 302
    assert _is_out(telephone)
    assert not _is_out(desk)
