"""A real Chromium: one driver and one browser a run, a fresh profile for each person."""

import os
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.contrib.sessions.backends.db import SessionStore
from django.core.management import call_command
from playwright.sync_api import Browser, Page, Playwright, sync_playwright
from pytest_django.live_server_helper import LiveServer

from fleet.models import User

os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"  # Playwright's loop runs in this thread; the ORM is used between

PHONE, DESK, NARROWEST = 390, 1280, 320


@pytest.fixture(scope="session")
def playwright_driver() -> Iterator[Playwright]:
    with sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="session")
def chromium(playwright_driver: Playwright) -> Iterator[Browser]:
    browser = playwright_driver.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
    yield browser
    browser.close()


@pytest.fixture(scope="session")
def collected() -> None:
    """The live server serves collected files, as production does."""
    call_command("collectstatic", interactive=False, verbosity=0)


@pytest.fixture
def complaints() -> list[str]:
    """What the browser complained of: script errors, and anything that the content security policy stopped."""
    return []


@pytest.fixture
def page_of(
    chromium: Browser, collected: None, live_server: LiveServer, complaints: list[str]
) -> Iterator[Callable[..., Page]]:
    """Opens a page for a user (or for nobody): ``page_of(user, width=390, scheme="dark")``."""
    contexts = []

    def opened(user: User | None = None, *, width: int = DESK, scheme: Any = "light") -> Page:
        context = chromium.new_context(
            base_url=live_server.url, viewport={"width": width, "height": 844}, color_scheme=scheme, locale="en-GB"
        )
        contexts.append(context)
        if user is not None:
            context.add_cookies([{"name": "rooftally_session", "value": session_of(user), "url": live_server.url}])
        page = context.new_page()
        page.on("pageerror", lambda error: complaints.append(str(error)))
        page.on(
            "console", lambda told: complaints.append(told.text) if "Content Security Policy" in told.text else None
        )
        return page

    yield opened
    for context in contexts:
        context.close()


def session_of(user: User) -> str:
    """The key of a fresh session of this user."""
    session = SessionStore()
    session[SESSION_KEY] = str(user.pk)
    session[BACKEND_SESSION_KEY] = "django.contrib.auth.backends.ModelBackend"
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session.save()
    assert session.session_key
    return session.session_key
