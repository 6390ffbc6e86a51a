"""A server, a network that can misbehave, phones before films, and somebody who works in the field."""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from playwright.sync_api import Playwright

from fleet.models import Member, Role, Site, User
from tests import rows
from tests.browser.field.film import Label, shoot
from tests.browser.field.phone import Phone
from tests.browser.field.proxy import Network


@pytest.fixture
def network(collected: None, live_server: Any) -> Iterator[Network]:
    network = Network(live_server.url)
    yield network
    network.stop()


@pytest.fixture
def phone_before(playwright_driver: Playwright, network: Network, tmp_path: Path) -> Iterator[Callable[..., Phone]]:
    """Makes phones: ``phone_before(labels)`` has a film of these before its camera."""
    phones: list[Phone] = []

    def made(shown: list[Label] | None = None) -> Phone:
        folder = tmp_path / f"phone{len(phones)}"
        folder.mkdir()
        film = shoot(folder / "film.mjpeg", shown) if shown else None
        phones.append(Phone(playwright_driver, folder, network.url, film))
        return phones[-1]

    yield made
    for phone in phones:
        phone.kill()


@pytest.fixture
def technician(transactional_db: None) -> Member:
    return rows.make_member(Role.FIELD, rows.make_company("Telhado Claro"))


@pytest.fixture
def site(technician: Member) -> Site:
    site = rows.make_site(technician.company)
    rows.assign(technician, site)
    return site


@pytest.fixture
def at_site(phone_before: Callable[..., Phone], technician: Member, site: Site) -> Phone:
    """A phone without a camera's film, signed in, its page kept, at the site."""
    phone = phone_before()
    phone.open(cookies=session_cookies(technician.user))
    phone.kept_offline()
    phone.choose_site()
    return phone


def session_cookies(user: User) -> dict[str, str]:
    """The cookie of a fresh session of this user."""
    session = SessionStore()
    session[SESSION_KEY] = str(user.pk)
    session[BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.save()
    assert session.session_key
    return {"rooftally_session": session.session_key}
