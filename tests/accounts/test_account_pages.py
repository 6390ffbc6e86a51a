"""allauth's pages speak the house's language: plain sentences, no Title Case, no codes, no raw user agents."""

import re

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse

from fleet.models import User
from onboarding.views.browsers import browser
from tests import rows

pytestmark = pytest.mark.django_db

CHROMIUM = "Mozilla/5.0 (X11; Linux x86_64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/131.0.0.0 Safari/537.36"
OPEN: tuple[tuple[str, dict[str, str]], ...] = (
    ("account_login", {}),
    ("account_signup", {}),
    ("account_inactive", {}),
    ("account_reset_password", {}),
    ("account_reset_password_done", {}),
    ("account_reset_password_from_key_done", {}),
    ("account_reset_password_from_key", {"uidb36": "1", "key": "no-such-key"}),
    ("account_confirm_email", {"key": "no-such-key"}),
    ("account_email_verification_sent", {}),
)
OWN = (
    "account_logout", "account_email", "account_change_password", "account_reauthenticate", "mfa_index",
    "mfa_activate_totp", "mfa_list_webauthn", "mfa_add_webauthn", "usersessions_list",
)  # fmt: skip
MAY_BE_LARGE = {"I", "PIN", "JSON", "API", "Chromium", "Linux", "Rooftally", "Telhado", "Claro"}
THEIRS = ("bad token", "please", "remember me", "sorry", "token", "two-factor", "authenticator", "reauthenticate")


@pytest.fixture
def user() -> User:
    return rows.make_user("ana@example.org")


@pytest.fixture
def client(user: User) -> Client:
    """Somebody who signed in just now, by password, in Chromium on Linux."""
    client = Client(headers={"user-agent": CHROMIUM})
    form = {"login": user.email, "password": rows.PASSWORD}
    assert client.post(reverse("account_login"), form).status_code == 302
    assert client.post(reverse("account_reauthenticate"), {"password": rows.PASSWORD}).status_code == 302
    return client


def said(page: str) -> list[str]:
    """Headings, labels, buttons and links of a page, without what is a person's own."""
    main = page.partition("<main")[2].partition("</main>")[0]
    pieces = re.findall(r"<(h1|h2|label|legend|button|a|summary|title)\b[^>]*>(.*?)</\1>", main, re.DOTALL)
    return [" ".join(re.sub(r"<[^>]+>", " ", text).split()) for _tag, text in pieces]


def faults(page: str) -> list[str]:
    """What of a page is not the house's language."""
    found = [
        text
        for text in said(page)
        if any(word[0].isupper() and word not in MAY_BE_LARGE for word in re.findall(r"[^\W\d_]+", text)[1:] if word)
        and ". " not in text
    ]
    read = re.sub(
        r"<script.*?</script>|<[^>]+>", " ", page.partition("<main")[2].partition("</main>")[0], flags=re.DOTALL
    )
    return found + [word for word in THEIRS if word in read.lower()] + (["!"] if "!" in read else [])


@pytest.mark.parametrize(("name", "arguments"), OPEN)
def test_pages_that_anybody_may_open(name: str, arguments: dict[str, str]):
    answer = Client().get(reverse(name, kwargs=arguments))
    assert answer.status_code == 200
    assert "<h1>" in answer.content.decode()
    assert faults(answer.content.decode()) == []


@pytest.mark.parametrize("name", OWN)
def test_pages_about_ones_own_account(name: str, client: Client):
    answer = client.get(reverse(name))
    assert answer.status_code == 200
    assert "<h1>" in answer.content.decode()
    assert faults(answer.content.decode()) == []


def test_the_check_itself_finds_what_is_not_ours():
    page = "<main><h1>Bad Token</h1><p>Please try again!</p></main>"
    assert faults(page) == ["Bad Token", "bad token", "please", "token", "!"]


def test_a_link_that_no_longer_works_is_told_so_with_the_next_step():
    page = (
        Client().get(reverse("account_reset_password_from_key", kwargs={"uidb36": "1", "key": "x-y"})).content.decode()
    )
    assert "This link no longer works" in page
    assert f'href="{reverse("account_reset_password")}"' in page


def test_wrong_words_are_answered_in_ours(user: User, client: Client):
    page = Client().post(reverse("account_login"), {"login": user.email, "password": "wrong"}).content.decode()
    assert "Address and password do not fit together" in page
    form = {"oldpassword": "wrong", "password1": "seven quails at the gate", "password2": "seven quails at the gate"}
    page = client.post(reverse("account_change_password"), form).content.decode()
    assert "This is not your present password. Nothing was changed." in page


def test_sessions_name_the_browser_and_never_its_raw_text(client: Client):
    page = client.get(reverse("usersessions_list")).content.decode()
    assert "Chromium on Linux" in page
    assert "Mozilla/5.0" not in page
    assert "AppleWebKit" not in page


@pytest.mark.parametrize(
    ("told", "words"),
    [
        (CHROMIUM, "Chromium on Linux"),
        ("Mozilla/5.0 (X11; Linux x86_64; rv:133.0) Gecko/20100101 Firefox/133.0", "Firefox on Linux"),
        (f"{CHROMIUM.replace('X11; Linux x86_64', 'Windows NT 10.0; Win64; x64')} Edg/131.0.0.0", "Edge on Windows"),
        (
            "Mozilla/5.0 (iPhone; CPU iPhone OS 18_1 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) "
            "Version/18.1 Mobile/15E148 Safari/604.1",
            "Safari on iPhone",
        ),
        (CHROMIUM.replace("X11; Linux x86_64", "Linux; Android 10; K"), "Chromium on Android"),
        ("curl/8.5.0", "Another program"),
        ("", "Another program"),
        ("<script>alert(1)</script>", "Another program"),
    ],
)
def test_browsers_in_words(told: str, words: str):
    assert browser(told) == words


def test_changing_the_password_says_so_calmly(client: Client):
    new = dict.fromkeys(("password1", "password2"), "seven quails at the gate")
    answer = client.post(reverse("account_change_password"), {"oldpassword": rows.PASSWORD} | new, follow=True)
    assert "The password is changed." in answer.content.decode()


@pytest.mark.parametrize(("name", "called"), [("Ana Serradela", "Ana Serradela"), ("", "ana.s@example.org")])
def test_who_signs_in_is_greeted_by_name_or_address_and_not_by_an_identifier(name: str, called: str):
    person = rows.make_user("ana.s@example.org", name=name)
    told = render_to_string("account/messages/logged_in.txt", {"user": person})
    assert told.strip() == f"You are signed in as {called}."
