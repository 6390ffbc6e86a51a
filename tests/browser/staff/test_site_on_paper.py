"""A site's page with many devices: accessible, no wider than a phone, and on paper without acts and internal notes."""

from collections.abc import Callable

import pytest
from django.utils import timezone
from playwright.sync_api import Page

from fleet.models import Kind, Member, Site
from fleet.operations.checks import record_check
from tests import rows
from tests.browser.axe import overflow, violations
from tests.factories import make_owner

pytestmark = [pytest.mark.browser, pytest.mark.once, pytest.mark.django_db(transaction=True)]


def _site() -> tuple[Site, Member]:
    member = rows.make_member()
    site = rows.make_site(member.company, note="Key with the neighbour")
    for number in range(30):
        device = rows.make_device(member.company, kind=Kind.INVERTER if number < 3 else Kind.OPTIMISER)
        rows.place(device, site, since=timezone.now(), position=f"A{number}" if number > 2 else "cellar")
    record_check(actor=member, site=site, title="Isolator labelled", finding="problem", note="Spare key is wrong")
    make_owner(member, site)
    return site, member


def test_the_page_is_accessible_and_fits_folded_and_open(page_of: Callable[..., Page], complaints: list[str]):
    site, member = _site()
    for width, scheme in ((320, "light"), (1280, "dark")):
        page = page_of(member.user, width=width, scheme=scheme)
        page.goto(f"/sites/{site.written_code}/")
        assert (violations(page), overflow(page)) == ([], 0)
        page.locator(".folded summary").click()
        page.locator(".menu summary").first.click()
        assert (violations(page), overflow(page)) == ([], 0)
    assert complaints == []


def test_paper_carries_no_acts_and_no_internal_notes(page_of: Callable[..., Page]):
    site, member = _site()
    page = page_of(member.user, width=720)
    page.goto(f"/sites/{site.written_code}/")
    page.emulate_media(media="print")
    told = page.locator("main").inner_text()
    assert site.written_code in told
    assert "Isolator labelled" in told
    assert "String A" in told
    for word in ("Key with the neighbour", "Spare key is wrong", "Swap", "Acts", "Edit", "Scan", "Invite", "Retire"):
        assert word not in told
    assert page.locator("button:visible, input:visible, select:visible").count() == 0
    assert page.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


def test_paper_is_white_whatever_is_chosen_for_the_screen(page_of: Callable[..., Page]):
    site, member = _site()
    page = page_of(member.user, width=720, scheme="dark")
    page.goto(f"/sites/{site.written_code}/")
    ink = "getComputedStyle(document.documentElement).getPropertyValue('--ink')"
    on_screen = page.evaluate(ink)
    for chosen in ("", "dark"):
        page.evaluate("theme => { document.documentElement.dataset.theme = theme }", chosen)
        page.emulate_media(media="print", color_scheme="dark")
        assert page.evaluate(ink) != on_screen


def test_the_menu_of_one_row_leaves_the_next_one_to_be_pressed(page_of: Callable[..., Page]):
    site, member = _site()
    for width in (390, 1280):
        page = page_of(member.user, width=width)
        page.goto(f"/sites/{site.written_code}/")
        page.locator(".menu summary").nth(0).click()
        page.locator(".menu summary").nth(1).click(timeout=5000)
        assert page.locator(".menu").nth(1).get_attribute("open") is not None


def test_a_site_takes_two_lines_of_a_phone(page_of: Callable[..., Page]):
    _, member = _site()
    page = page_of(member.user, width=390)
    page.goto("/sites/")
    row = page.locator("table.sites tbody tr").first
    tops = {round(row.locator(f".col-{name}").bounding_box()["y"] / 20) for name in ("code", "owner", "move")}  # type: ignore[index]
    assert len(tops) == 1
    assert row.bounding_box()["height"] < 80  # type: ignore[index]
