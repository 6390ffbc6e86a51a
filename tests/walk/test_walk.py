"""The register of the demo walked from outside as everybody who uses it, over HTTP and in a real Chromium."""

import pytest
from playwright.sync_api import Browser
from pytest_django import Settings
from pytest_django.live_server_helper import LiveServer

from fleet.acting import origin
from onboarding.management.demo.data import load
from onboarding.management.demo.people import OWNER, STAFF, SignIn
from onboarding.management.demo.story import Job
from onboarding.tasks import sweep_deliveries
from tests.walk.chromium import look
from tests.walk.crawl import Limits
from tests.walk.tour import Account, never_reached, stale, walk_all

pytestmark = [pytest.mark.slow, pytest.mark.browser, pytest.mark.timeout(900), pytest.mark.django_db(transaction=True)]

SITES = 60  # enough for each state an invitation can be in, and for a second page of the list
PASSWORD = "quiet tiles on a warm roof"
ROLES = {role: email for _name, email, _role, role in STAFF[:3]} | {OWNER[2]: OWNER[1]}
ACCOUNTS = {who: Account(email, PASSWORD) for who, email in ROLES.items()}


@pytest.fixture
def demo(live_server: LiveServer, settings: Settings, collected: None) -> str:
    """The demo's data behind a live server, with one site told from the roof to the owner's acceptance."""
    settings.BASE_URL, settings.MAIL_URL, settings.DEMO = live_server.url, "mailbox:", True
    people = {email: SignIn(who, email, PASSWORD) for who, email in [*ROLES.items(), (STAFF[3][3], STAFF[3][1])]}
    with origin("demo"):
        load(people, lambda _line: None, sites=SITES)
    told: list[str] = []
    job = Job(live_server.url, people[STAFF[2][1]], 1, told.append)

    def deliver(address: str) -> str:
        sweep_deliveries()
        return job.link_in_mailbox(address)

    job.find_link = deliver
    assert job.run(), "\n".join(told)
    return live_server.url


def test_every_door_opens(demo: str, chromium: Browser):
    found = walk_all(demo, ACCOUNTS, Limits(pages_of_a_kind=1, counts_of_a_kind=2))
    print(f"{found.asked} addresses asked, {len(found.opened)} kinds of page opened, {len(found.loaded)} files loaded")
    faults = found.faults + look(chromium, demo, ACCOUNTS, found)
    print("\n".join(faults))
    assert faults == []
    assert never_reached(found) == [], "link it, delete it, or list it with its reason in tests/walk/unreached.py"
    assert stale(found) == [], "reached after all: take it off the list in tests/walk/unreached.py"
