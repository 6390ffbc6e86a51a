"""The owner's journey in a real browser on a phone: four taps and one password; every page accessible and narrow."""

from collections.abc import Callable

import pytest
from django.urls import reverse
from playwright.sync_api import Page, Route, expect

from onboarding.models import ConsentEntry, Invitation
from tests.browser.axe import overflow, violations
from tests.browser.owners.journey import walk
from tests.factories import make_company, make_invitation, make_member, make_owner, make_site

pytestmark = [pytest.mark.browser, pytest.mark.once, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def link() -> str:
    """The link of a sent invitation."""
    member = make_member(make_company())
    site = make_site(member)
    _invitation, token = make_invitation(member, site, make_owner(member, site))
    return reverse("onboarding:welcome", args=[token])


def test_four_taps_and_one_password(page_of: Callable[..., Page], complaints: list[str], link: str):
    page = page_of(width=390)
    assert walk(page, link) == 4
    assert Invitation.objects.get().state == "accepted"
    given = ConsentEntry.objects.get(purpose="monitoring", evidence="owner_online")
    assert given.state == "given"
    page.locator("#permissions summary").first.click()
    page.locator("button[value=withdraw]").first.click()
    page.wait_for_selector(".note-success")
    assert ConsentEntry.objects.filter(purpose="monitoring", state="withdrawn").exists()
    assert complaints == []


@pytest.mark.parametrize(("width", "scheme"), [(320, "light"), (390, "dark")])
def test_each_step_is_accessible_and_fits(page_of: Callable[..., Page], link: str, width: int, scheme: str):
    page = page_of(width=width, scheme=scheme)
    found = {}

    def look(name: str) -> None:
        if (faults := violations(page)) or overflow(page):
            found[name] = (faults, overflow(page))

    walk(page, link, look=look)
    for name in ("receipts", "about_me", "second_owner", "sold"):
        page.goto(reverse(f"onboarding:{name}", args=[Invitation.objects.get().site.code]))
        look(name)
    for address in (reverse("onboarding:letter"), link, reverse("onboarding:welcome", args=["no-such-link-at-all"])):
        page.goto(address)
        look(address)
    assert found == {}


def test_the_meter_follows_length_and_context(page_of: Callable[..., Page], link: str):
    page = page_of(width=390)
    page.goto(link)
    page.locator("button[value=continue]").click()
    field, meter = page.locator("#id_password"), page.locator("#password-meter")
    levels = {"short": "1", "a" * 20: "2", "Telhado Claro Tavira": "2", "ochre gate seven": "3"}
    for typed, level in (levels | {"ochre gate seven quails": "4"}).items():
        field.fill(typed)
        expect(meter).to_have_attribute("data-level", level)


def test_the_meter_counts_what_was_typed_before_it_was_there(page_of: Callable[..., Page], link: str):
    page = page_of(width=390)

    def late(route: Route) -> None:
        page.locator("#id_password").fill("short")
        route.continue_()

    page.route("**/password-meter*.js", late)
    page.goto(link)
    page.locator("button[value=continue]").click()
    expect(page.locator("#password-meter")).to_have_attribute("data-level", "1")
