"""Changing one's own address: what nobody confirmed is good for nothing, and the address before can stop it."""

from datetime import timedelta
from typing import Any

import pytest
from allauth.account.models import EmailAddress
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import TOTP, generate_totp_secret
from django.core.cache import cache
from django.test import Client
from django.utils import timezone

from fleet.models import Member, MemberInvitation, Role, User
from fleet.operations.companies import create_company
from fleet.operations.members import token_hash
from onboarding.models import Delivery, Owner
from tests.factories import PASSWORD, make_invitation, make_member, make_owner, make_site, make_user

pytestmark = pytest.mark.django_db
OLD, NEW = "nova@example.org", "thief@example.com"


def _member(email: str = OLD) -> Member:
    return make_member(user=make_user(email, password=PASSWORD))


def _signed_in(email: str = OLD, password: str = PASSWORD) -> Client:
    client = Client()
    assert client.post("/accounts/login/", {"login": email, "password": password}).status_code == 302
    return client


def _proven(email: str = OLD) -> Client:
    client = _signed_in(email)
    assert client.post("/accounts/reauthenticate/", {"password": PASSWORD}).status_code == 302
    return client


def _ask(client: Client, address: str = NEW) -> Any:
    """Ask for another address, in whichever form the page has it."""
    return client.post("/accounts/email/", {"address": address, "email": address, "action_add": "Change"})


def _signs_in(address: str) -> bool:
    cache.clear()
    answer = Client().post("/accounts/login/", {"login": address, "password": PASSWORD})
    return answer.status_code == 302


def _mails_to(address: str) -> list[str]:
    return [mail.template for mail in Delivery.objects.filter(to_address=address).order_by("id")]


def _link(address: str, template: str) -> str:
    """The path of the link in the latest mail of this kind to ``address``."""
    mail = Delivery.objects.filter(to_address=address, template=template).latest("id")
    return str(mail.context["link"]).removeprefix("http://127.0.0.1:8000")


def test_an_address_that_nobody_confirmed_neither_signs_in_nor_gets_the_password_link():
    user = _member().user
    _ask(_proven())
    assert not _signs_in(NEW)
    Client().post("/accounts/password/reset/", {"email": NEW})
    assert "password_reset" not in _mails_to(NEW)
    user.refresh_from_db()
    assert user.email == OLD
    assert _signs_in(OLD)


def test_nor_does_it_keep_anybody_else_from_that_address():
    _member()
    _ask(_proven())
    assert not EmailAddress.objects.filter(email=NEW).exists()
    administrator = make_member(role=Role.ADMINISTRATOR)
    MemberInvitation.objects.create(
        company=administrator.company, email=NEW, role=Role.FIELD, token_hash=token_hash("the-link"),
        invited_by=administrator, expires_at=timezone.now() + timedelta(days=1),
    )  # fmt: skip
    assert Client().post("/join/the-link", {"name": "T", "password": PASSWORD}).status_code == 302
    assert Client().post(_link(NEW, "address_confirm")).status_code == 409
    assert User.objects.get(email=NEW).name == "T"


def test_two_administrators_who_ask_keep_their_own_address():
    for name in ("one", "two"):
        create_company(name=name, admin_email=f"{name}@example.org", password=PASSWORD)
        client = _proven(f"{name}@example.org")
        assert client.get("/accounts/email/").status_code == 200
        assert _ask(client, f"new-{name}@example.org").status_code == 302
    assert set(User.objects.values_list("email", flat=True)) == {"one@example.org", "two@example.org"}


@pytest.mark.parametrize("action", ["action_remove", "action_primary", "action_send"])
def test_no_other_button_of_the_page_changes_the_address(action: str):
    user = _member().user
    client = _proven()
    client.get("/accounts/email/")
    _ask(client)
    for address in (OLD, NEW):
        client.post("/accounts/email/", {"email": address, action: ""})
    user.refresh_from_db()
    assert user.email == OLD
    assert not _signs_in(NEW)


def test_the_password_is_asked_before():
    _member()
    client = Client()
    client.force_login(User.objects.get(email=OLD))
    assert _ask(client).headers["Location"].startswith("/accounts/reauthenticate/")
    assert _mails_to(NEW) == []


def test_or_the_second_factor():
    user = _member().user
    user.set_unusable_password()
    user.save()
    TOTP.activate(user, generate_totp_secret())
    client = Client()
    client.force_login(user)
    assert _ask(client).headers["Location"].startswith("/accounts/2fa/reauthenticate/")
    assert Authenticator.objects.filter(user=user).exists()
    assert _mails_to(NEW) == []


def test_the_new_mailboxs_answer_makes_it_the_address_and_opening_the_link_does_not():
    user = _member().user
    _ask(_proven())
    link = _link(NEW, "address_confirm")
    assert Client().get(link).status_code == 200
    assert not _signs_in(NEW)
    assert Client().post(link).status_code == 200
    assert _signs_in(NEW)
    assert not _signs_in(OLD)
    assert EmailAddress.objects.get(user=user).verified
    assert Client().post(link).status_code == 404


def test_the_owners_rows_follow_and_the_register_finds_them():
    member = make_member()
    site = make_site(member)
    _invitation, token = make_invitation(member, site, make_owner(member, site, email=OLD))
    Client().post(f"/welcome/{token}", {"act": "accept", "password": PASSWORD})
    _ask(_proven())
    Client().post(_link(NEW, "address_confirm"))
    assert Owner.objects.get().email == NEW


def test_the_address_before_hears_of_it_and_stops_it():
    user = _member().user
    thief = _proven()
    _ask(thief)
    link = _link(OLD, "address_change_asked")
    assert Client().get(link).status_code == 200
    assert Client().post(link).status_code == 200
    assert Client().post(_link(NEW, "address_confirm")).status_code == 404
    user.refresh_from_db()
    assert user.email == OLD
    assert not _signs_in(OLD), "whoever asked knew the password"
    assert "/accounts/login/" in thief.get("/").headers["Location"]
    assert _mails_to(OLD)[-1] == "password_reset"


def test_for_72_hours_it_comes_back_although_the_new_one_was_confirmed():
    user = _member().user
    thief = _proven()
    _ask(thief)
    Client().post(_link(NEW, "address_confirm"))
    assert thief.get("/").status_code == 200
    assert Client().post(_link(OLD, "address_change_asked")).status_code == 200
    user.refresh_from_db()
    assert user.email == OLD
    assert not _signs_in(NEW)
    assert "/accounts/login/" in thief.get("/").headers["Location"]


@pytest.mark.parametrize(("hours", "stopped"), [(71, True), (73, False)])
def test_and_not_for_longer(hours: int, stopped: bool):
    from onboarding.models import AddressChange

    user = _member().user
    _ask(_proven())
    Client().post(_link(NEW, "address_confirm"))
    AddressChange.objects.update(asked_at=timezone.now() - timedelta(hours=hours))
    Client().post(_link(OLD, "address_change_asked"))
    user.refresh_from_db()
    assert (user.email == OLD) == stopped


def test_a_later_request_ends_the_one_before():
    _member()
    client = _proven()
    _ask(client)
    first = _link(NEW, "address_confirm")
    _ask(client, "second@example.com")
    assert Client().post(first).status_code == 404
    assert Client().post(_link("second@example.com", "address_confirm")).status_code == 200


def test_an_address_that_another_account_has_gets_no_mail_and_the_answer_does_not_tell():
    _member()
    make_user("somebody@example.com")
    client = _proven()
    free, taken = _ask(client, "free@example.com"), _ask(client, "somebody@example.com")
    assert (free.status_code, free.headers["Location"]) == (taken.status_code, taken.headers["Location"])
    assert _mails_to("somebody@example.com") == []


@pytest.mark.parametrize("address", ["", "no address", OLD, OLD.upper(), "x@host.invalid"])
def test_what_is_no_other_address_is_refused(address: str):
    _member()
    assert _ask(_proven(), address).status_code == 422
    assert not Delivery.objects.exists()


# --- whose address is confirmed by what -------------------------------------------------------------------------------


def _is_confirmed(email: str) -> bool:
    return bool(EmailAddress.objects.filter(email=email, primary=True, verified=True).exists())


def test_who_joins_by_a_mailed_link_is_confirmed_by_it():
    administrator = make_member(role=Role.ADMINISTRATOR)
    MemberInvitation.objects.create(
        company=administrator.company, email=OLD, role=Role.FIELD, token_hash=token_hash("the-link"),
        invited_by=administrator, expires_at=timezone.now() + timedelta(days=1),
    )  # fmt: skip
    Client().post("/join/the-link", {"name": "Nova", "password": PASSWORD})
    assert _is_confirmed(OLD)


def test_the_first_administrator_is_confirmed_by_the_first_mail():
    create_company(name="Bravo Telhados", admin_email=OLD, password=PASSWORD)
    assert not _is_confirmed(OLD)
    Client().post(_link(OLD, "address_confirm"))
    assert _is_confirmed(OLD)
    assert _signs_in(OLD)


def test_or_by_setting_a_password_by_a_mailed_link():
    from onboarding.operations.letters import letter_facts

    create_company(name="Bravo Telhados", admin_email=OLD)
    Client().post("/accounts/password/reset/", {"email": OLD})
    link = letter_facts(Delivery.objects.get(template="password_reset")).link.removeprefix("http://127.0.0.1:8000")
    client = Client()
    form = client.get(link).headers["Location"]
    client.post(form, {"password1": PASSWORD, "password2": PASSWORD})
    assert _signs_in(OLD)
    assert _is_confirmed(OLD)
