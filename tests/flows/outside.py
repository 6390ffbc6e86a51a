"""What people have beside the pages: their post, and a company that was started as the operator starts it."""

import io
import re
from collections.abc import Iterator
from contextlib import contextmanager

from django.core.management import call_command
from django.test import Client
from pytest_django import Settings

from fleet.models import Member, Role, User
from onboarding.tasks import sweep_deliveries
from tests.servers.smtp import SmtpServer
from tests.walk.person import Person

SECRET = "seven quiet tiles on a roof"
ADMINISTRATOR = "leonor@example.org"


class Post:
    """Everybody's letter box: what the mail server took."""

    def __init__(self, server: SmtpServer) -> None:
        self._server = server

    def letters(self, address: str) -> list[str]:
        """The texts of the mails that came for an address, oldest first, once the background work is done."""
        sweep_deliveries()
        texts = [mail.message.get_body(("plain",)) for mail in self._server.sink.to(address)]
        return [text.get_content() for text in texts if text is not None]

    def link(self, address: str, part: str) -> str:
        """The link in the last mail to ``address`` that leads below ``part``."""
        found = re.search(rf"https?://[^\s\"<>]+/{part}/[\w-]+", self.letters(address)[-1])
        assert found, f"the last mail to {address} holds no link to {part}"
        return found.group(0)


@contextmanager
def post_office(settings: Settings) -> Iterator[Post]:
    """A mail server for the length of a journey."""
    server = SmtpServer()
    settings.MAIL_URL, settings.BASE_URL = server.url, "http://testserver"
    try:
        yield Post(server)
    finally:
        server.stop()


def new_company(name: str = "Telhado Claro") -> str:
    """A company as the operator starts it: the password that was shown once."""
    told = io.StringIO()
    call_command("create_company", name, "--admin", ADMINISTRATOR, "--admin-name", "Leonor", stdout=told)
    found = re.search(r"Password, shown this once: (\S+)", told.getvalue())
    assert found, told.getvalue()
    return found.group(1)


def signs_in(email: str, password: str) -> Person:
    """Somebody who signs in by the form."""
    person = Person().open("/accounts/login/")
    person.send("Sign in", {"E-mail address": email, "Password": password})
    person.sees_none("not correct")
    return person


def accepts(owner: Person, answers: dict[str, str] | None = None) -> Person:
    """The owner who has the invitation before them goes on, answers questions and chooses a password."""
    owner.press("Continue")
    ticked = [one.get("name") for one in owner.page.walk("input") if one.has("checked")]
    assert ticked == [], "an answer was chosen beforehand"
    return owner.send("Open my site", {"Choose a password": SECRET, **(answers or {})})


def colleague(role: str, email: str) -> Person:
    """Somebody who works for the company that there is and is signed in already."""
    company = Member.objects.get(user__email=ADMINISTRATOR).company
    user = User.objects.create_user(email, SECRET, name=email.split("@")[0].title())
    Member.objects.create(company=company, user=user, role=role)
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return Person(client).open("/")


def office() -> Person:
    """Somebody of the office."""
    return colleague(Role.OFFICE, "duarte@example.org")
