"""The same rules wherever a password is chosen: joining, accepting, setting it anew, changing it."""

from collections.abc import Callable
from datetime import timedelta

import pytest
from allauth.account.forms import default_token_generator
from allauth.account.utils import user_pk_to_url_str
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret
from django.test import Client
from django.utils import timezone

from fleet.models import Company, Member, MemberInvitation, Role, User
from fleet.operations.members import token_hash
from fleet.passwords import password_problems
from tests.factories import PASSWORD, make_company, make_invitation, make_member, make_owner, make_site, make_user

pytestmark = pytest.mark.django_db
EMOJI = "🌵🐢🎈🧵🪴🐙🍋🎻🛶🧀🦉🪁🍄🚲🧊🎲"
SIGNS = "!§$%&/()=?+*~#'_:;"
CYRILLIC = "тихая крыша утром"
Door = Callable[[Company, str], bool]


def _join(company: Company, password: str) -> bool:
    administrator = make_member(company, Role.ADMINISTRATOR)
    MemberInvitation.objects.create(
        company=company, email="nova@example.org", role=Role.FIELD, token_hash=token_hash("the-link"),
        invited_by=administrator, expires_at=timezone.now() + timedelta(days=1),
    )  # fmt: skip
    answer = Client().post("/join/the-link", {"name": "Nova", "password": password})
    return answer.status_code == 302 and User.objects.get(email="nova@example.org").check_password(password)


def _accept(company: Company, password: str) -> bool:
    member = make_member(company)
    site = make_site(member)
    _invitation, token = make_invitation(member, site, make_owner(member, site, email="ines@example.net"))
    answer = Client().post(f"/welcome/{token}", {"act": "accept", "password": password})
    return answer.status_code == 302 and User.objects.get(email="ines@example.net").check_password(password)


def _reset(company: Company, password: str) -> bool:
    user = make_member(company, user=make_user("nova@example.org", password=PASSWORD)).user
    client, key = Client(), default_token_generator.make_token(user)
    page = client.get(f"/accounts/password/reset/key/{user_pk_to_url_str(user)}-{key}/")
    client.post(page.headers["Location"], {"password1": password, "password2": password})
    user.refresh_from_db()
    return bool(user.check_password(password))


def _change(company: Company, password: str) -> bool:
    user = make_member(company, user=make_user("nova@example.org", password=PASSWORD)).user
    client = Client()
    client.force_login(user)
    return _changed(client, user, PASSWORD, password)


def _changed(client: Client, user: User, before: str, password: str) -> bool:
    client.post("/accounts/password/change/", {"oldpassword": before, "password1": password, "password2": password})
    user.refresh_from_db()
    return bool(user.check_password(password))


DOORS = pytest.mark.parametrize("door", [_join, _accept, _reset, _change])


@DOORS
@pytest.mark.parametrize(
    "password", ["bravotelhados2026", "Bravo-Telhados_2026!", "ｂｒａｖｏｔｅｌｈａｄｏｓ２０２６"]
)
def test_the_companys_name_and_a_year_pass_no_door(door: Door, password: str):
    assert not door(make_company("Bravo Telhados"), password)


@DOORS
@pytest.mark.parametrize("password", [EMOJI, SIGNS, CYRILLIC, "seven quiet tiles on a roof"])
def test_what_has_nothing_of_a_name_in_it_passes_every_door(door: Door, password: str):
    assert door(make_company("Bravo Telhados"), password)


@DOORS
def test_fourteen_characters_pass_no_door(door: Door):
    assert not door(make_company("Bravo Telhados"), "ochre gate sev")


def test_an_owner_who_changes_it_cannot_take_their_own_roof():
    member = make_member()
    site = make_site(member, street="Travessa das Gaivotas", town="Olhão")
    user = make_user("ines@example.net", password=PASSWORD)
    owner = make_owner(member, site, name="Inês Mourato", email="ines@example.net")
    type(owner).objects.filter(pk=owner.pk).update(user=user)
    client = Client()
    client.force_login(user)
    assert not _changed(client, user, PASSWORD, "travessa-gaivotas-olhao-7")


@pytest.mark.parametrize(
    ("password", "told"),
    [
        ("bravo telhados 2026", True),
        ("Telhados" + "🌵" * 12, True),
        ("telhados!!!!!!!!!!!!!!", True),
        (EMOJI, False),
        (EMOJI[:4] * 4, False),
        (SIGNS, False),
        ("bravo seven quiet tiles", False),
    ],
)
def test_only_what_is_little_more_than_a_name_is_called_so(password: str, told: bool):
    problems = [str(each) for each in password_problems(password, words=["Bravo Telhados"])]
    assert any("little more than your name" in each for each in problems) == told


# --- a short password rests on its second factor ----------------------------------------------------------------------

SHORT = "quail gate 7"


@pytest.fixture
def person() -> tuple[Client, User]:
    """Somebody with an authenticator app and a password of twelve characters, who proved it just now."""
    user = make_member(user=make_user("nova@example.org", password=PASSWORD)).user
    TOTP.activate(user, generate_totp_secret())
    client = Client()
    client.force_login(user)
    assert _changed(client, user, PASSWORD, SHORT)
    client.post("/accounts/reauthenticate/", {"password": SHORT})
    return client, user


def test_a_short_password_does_not_outlive_the_authenticator_app(person: tuple[Client, User]):
    client, user = person
    told = client.post("/accounts/2fa/totp/deactivate/").content.decode()
    assert Authenticator.objects.filter(user=user, type="totp").exists()
    assert "set a longer password first" in told
    assert _changed(client, user, SHORT, PASSWORD)
    assert client.post("/accounts/2fa/totp/deactivate/").status_code == 302
    assert not Authenticator.objects.filter(user=user).exists()
    assert not _changed(client, user, PASSWORD, SHORT)


def test_a_short_password_does_not_outlive_the_last_passkey(person: tuple[Client, User]):
    client, user = person
    Authenticator.objects.filter(user=user).delete()
    passkey = Authenticator.objects.create(user=user, type="webauthn", data={"name": "telephone"})
    remove = f"/accounts/2fa/webauthn/keys/{passkey.pk}/remove/"
    told = client.post(remove, follow=True).content.decode()
    assert Authenticator.objects.filter(pk=passkey.pk).exists()
    assert "set a longer password first" in told
    assert _changed(client, user, SHORT, PASSWORD)
    client.post(remove)
    assert not Authenticator.objects.filter(pk=passkey.pk).exists()


def test_one_of_two_factors_may_go(person: tuple[Client, User]):
    client, user = person
    Authenticator.objects.create(user=user, type="webauthn", data={"name": "telephone"})
    client.post("/accounts/2fa/totp/deactivate/")
    assert [each.type for each in Authenticator.objects.filter(user=user)] == ["webauthn"]


def test_a_short_password_from_before_is_noticed_when_it_is_used(person: tuple[Client, User]):
    client, user = person
    User.objects.filter(pk=user.pk).update(short_password=False)  # as rows were before the length was noted
    client.post("/accounts/reauthenticate/", {"password": SHORT})
    client.post("/accounts/2fa/totp/deactivate/")
    assert Authenticator.objects.filter(user=user, type="totp").exists()


def test_a_member_of_nothing_may_change_it_too():
    user = make_user("solo@example.org", password=PASSWORD)
    client = Client()
    client.force_login(user)
    assert _changed(client, user, PASSWORD, "seven quiet tiles on a roof")


def test_the_member_joined_by_the_form_keeps_the_role_they_were_offered():
    company = make_company("Bravo Telhados")
    assert _join(company, "seven quiet tiles on a roof")
    assert Member.objects.get(user__email="nova@example.org").role == Role.FIELD
