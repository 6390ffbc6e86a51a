"""A day of the office in a real browser: register, scan, confirm, swap, find again by keyboard, hand over."""

import io
import re
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
import qrcode
from django.utils import timezone
from playwright.sync_api import Page, expect

from fleet.models import Company, Member, MemberInvitation, Placement, Role, Scan, Site
from fleet.operations.members import token_hash
from onboarding.management.synthetic.catalogue import invent_catalogue
from tests import rows
from tests.browser.conftest import PHONE

pytestmark = [pytest.mark.browser, pytest.mark.once, pytest.mark.django_db(transaction=True)]

INVERTER = "(01)09520001000027(21)RB10-A1"  # a model of the seeded catalogue, in the readable form


def _company() -> Company:
    company = rows.make_company("Telhado Claro")
    invent_catalogue(company)
    return company


def _photo_of(payload: str) -> bytes:
    picture = qrcode.make(payload, box_size=8)
    content = io.BytesIO()
    picture.save(content)
    return content.getvalue()


def test_from_the_empty_register_to_a_handed_over_site(page_of: Callable[..., Page], complaints: list[str]):
    member = rows.make_member(Role.ADMINISTRATOR, _company())
    page = page_of()

    page.goto("/")
    page.get_by_label("E-mail address").fill(member.user.email)
    page.get_by_label("Password", exact=True).fill(rows.PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()
    expect(page.get_by_role("heading", name="Three steps to begin with")).to_be_visible()

    main = page.locator("main")
    main.get_by_role("link", name="Register a site").first.click()
    main.get_by_label("Street").fill("Rua da Nora Fria")
    main.get_by_role("textbox", name="Number", exact=True).fill("7")
    main.get_by_label("Town").fill("Vila Serena")
    main.get_by_role("button", name="Register", exact=True).click()
    expect(page.get_by_role("status").first).to_contain_text("Registered as")
    site = Site.objects.get()

    main.get_by_role("link", name="Scan a label").click()
    main.get_by_label("Or what the label says").fill(INVERTER)
    main.get_by_role("button", name="Read it").click()
    expect(main.get_by_role("heading", name="Linked")).to_be_visible()
    expect(main.get_by_role("row", name=re.compile("Serial number RB10-A1"))).to_contain_text("(21)")

    main.get_by_role("link", name="Scan the next one").click()
    main.get_by_label("Or what the label says").fill("PLAIN-77")
    main.get_by_role("button", name="Read it").click()
    expect(main.get_by_role("heading", name="Needs your eye")).to_be_visible()
    assert Placement.objects.count() == 1
    main.get_by_role("button", name="It is right: link it").click()
    expect(main.get_by_role("heading", name="Linked")).to_be_visible()
    main.get_by_label("Kind").select_option("battery")
    main.get_by_role("button", name="Save").click()

    page.goto(f"/sites/{site.written_code}/")
    standing = main.get_by_role("row").filter(has_text="RB10-A1")
    standing.locator("summary").click()
    standing.get_by_role("link", name="Swap").click()
    main.get_by_label("Photo of the label").set_input_files(
        {
            "name": "label.png",
            "mimeType": "image/png",
            "buffer": _photo_of("https://example.com/01/09520001000027/21/RB10-B2"),
        }
    )
    main.get_by_role("button", name="Read it and swap").click()
    expect(page.get_by_role("status").first).to_contain_text("RB10-B2 stands here in place of RB10-A1")
    assert Placement.objects.get(device__serial="RB10-B2").replaces.device.serial == "RB10-A1"

    main.get_by_role("link", name="Hand over").click()
    main.get_by_role("button", name="Hand over with").click()
    expect(main.get_by_text("Handed over", exact=True).first).to_be_visible()
    site.refresh_from_db()
    assert site.stage == "handed_over"
    assert complaints == []


def test_the_search_box_by_keyboard_alone(page_of: Callable[..., Page]):
    member = rows.make_member(Role.OFFICE, _company())
    first = rows.make_site(member.company, street="Travessa da Figueira", house_number="1")
    second = rows.make_site(member.company, street="Travessa da Figueira", house_number="2")
    _reindex(first, second)
    page = page_of(member.user)

    page.goto("/")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.id") == "search-box"
    page.evaluate("document.activeElement.blur()")
    page.keyboard.press("/")
    page.keyboard.type("figueir")
    expect(page.locator("#search-answers [role=option]")).to_have_count(2)
    expect(page.locator("#search-answers mark").first).to_contain_text("Figueir")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("ArrowDown")
    chosen = page.locator("#search-answers [aria-selected=true]")
    assert page.locator("#search-box").get_attribute("aria-activedescendant") == chosen.get_attribute("id")
    expect(chosen).to_contain_text("Travessa da Figueira 2")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/sites/{second.written_code}/")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Travessa da Figueira 2")

    page.go_back()
    expect(page.locator("#search-box")).to_have_value("figueir")
    page.locator("#search-box").focus()
    expect(page.locator("#search-answers [role=option]")).to_have_count(2)

    page.keyboard.press("Escape")
    expect(page.locator("#search-answers")).to_be_hidden()
    page.keyboard.press("Enter")
    page.wait_for_url("**/sites/?q=figueir")
    expect(page.get_by_role("heading", name="2 sites.")).to_be_visible()
    expect(page.get_by_role("link", name=re.compile("Installed"))).to_be_visible()  # the filters came after the list


def test_the_newest_answer_wins(page_of: Callable[..., Page]):
    """An answer to an earlier text that arrives late must not cover the answer to the later one."""
    member = rows.make_member(Role.OFFICE, _company())
    slow = rows.make_site(member.company, street="Rua Vagarosa")
    quick = rows.make_site(member.company, street="Rua Ligeira")
    _reindex(slow, quick)
    page = page_of(member.user)
    page.goto("/")
    held: list[Any] = []
    page.route("**/search?q=vagarosa", lambda route: held.append(route))
    page.fill("#search-box", "vagarosa")
    page.wait_for_timeout(300)
    assert len(held) == 1
    page.fill("#search-box", "ligeira")
    expect(page.locator("#search-answers [role=option]")).to_contain_text("Rua Ligeira")
    held[0].continue_()
    page.wait_for_timeout(300)
    expect(page.locator("#search-answers [role=option]")).to_contain_text("Rua Ligeira")


def test_a_form_pressed_twice_is_sent_once(page_of: Callable[..., Page]):
    member = rows.make_member(Role.FIELD, _company())
    site = rows.make_site(member.company)
    rows.assign(member, site)
    page = page_of(member.user, width=PHONE)
    page.goto(f"/sites/{site.written_code}/scan")
    page.get_by_label("Or what the label says").fill(INVERTER)
    page.get_by_role("button", name="Read it").dblclick()
    expect(page.get_by_role("heading", name="Linked")).to_be_visible()
    assert Scan.objects.count() == 1


def test_a_newcomer_joins_with_a_browser_that_names_its_origin(page_of: Callable[..., Page]):
    """A referrer policy that is too strict makes browsers send "Origin: null", and the form is refused."""
    administrator = rows.make_member(Role.ADMINISTRATOR, _company())
    MemberInvitation.objects.create(
        company=administrator.company,
        email="nova@example.org",
        role=Role.FIELD,
        token_hash=token_hash("the-link"),
        invited_by=administrator,
        expires_at=timezone.now() + timedelta(days=1),
    )
    page = page_of(width=PHONE)
    page.goto("/join/the-link")
    page.get_by_label("Your name").fill("Nova")
    page.get_by_label("Choose a password").fill("seven quiet tiles on a roof")
    page.get_by_role("button", name="Join").click()
    expect(page.get_by_role("status").first).to_contain_text("Welcome to Telhado Claro")
    assert Member.objects.filter(user__email="nova@example.org", role=Role.FIELD).exists()


def test_the_dark_pages_stay_dark(page_of: Callable[..., Page]):
    member = rows.make_member(Role.OFFICE, _company())
    page = page_of(member.user)
    page.goto("/members/")
    light = page.evaluate("getComputedStyle(document.body).backgroundColor")
    page.locator("details.person summary").click()
    page.get_by_role("button", name="Dark pages").click()
    page.wait_for_url("**/members/")
    page.goto("/")
    assert page.evaluate("document.documentElement.dataset.theme") == "dark"
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") != light


def _reindex(*sites: Site) -> None:
    from fleet.search import reindex

    reindex([site.pk for site in sites])
