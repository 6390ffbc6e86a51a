"""Where the technician is: from the plate, or from any device that stands there, with no network."""

import pytest
from django.conf import settings

from fleet.models import Member, Site
from tests import rows
from tests.browser.field.phone import Phone, wait_for
from tests.browser.field.proxy import Network

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]


@pytest.fixture
def somewhere(at_site: Phone, network: Network, technician: Member, site: Site) -> Phone:
    """A phone offline that knows a site with a device, and is at none."""
    rows.place(rows.make_device(site.company, serial="AB-100001"), site)
    at_site.nudge()
    wait_for(lambda: "AB-100001" in str(at_site.facts("work")), "the device")
    at_site.page.evaluate("Rooftally.store.changeFacts(() => ({ place: null }))")
    network.mode = "down"
    at_site.load()
    assert at_site.facts("place") == [None]
    return at_site


def test_a_plate_leads_to_its_site(somewhere: Phone, site: Site):
    somewhere.see(f"{settings.BASE_URL}/s/{site.code}", "]Q1")
    assert somewhere.facts("place") == [site.written_code]
    assert somewhere.result()[0] == "good"
    assert [record["kind"] for record in somewhere.records()] == ["sight"]


@pytest.mark.parametrize("raw", ["AB-100001", "SN:AB-100001;PN:X1", "https://maker.example/?sn=AB-100001"])
def test_a_device_leads_to_its_site(somewhere: Phone, site: Site, raw: str):
    somewhere.see(raw)
    assert somewhere.facts("place") == [site.written_code]
    assert somewhere.records() == []


@pytest.mark.parametrize("raw", ["AB-1000012", "XAB-100001", "(01)09520123456788(21)AB-1000015"])
def test_a_longer_serial_is_another_device(somewhere: Phone, raw: str):
    somewhere.see(raw)
    assert somewhere.facts("place") == [None]
    assert somewhere.result()[1] == "No site chosen yet"


def test_a_site_is_found_by_a_part_of_its_address_or_by_its_code(
    at_site: Phone, network: Network, technician: Member, site: Site
):
    page = at_site.page
    for town in ("Évora Nova", "Serpins"):
        rows.assign(technician, rows.make_site(technician.company, town=town))
    at_site.nudge()
    page.evaluate("location.hash = '#places'")
    wait_for(lambda: len(page.query_selector_all(".place")) == 3, "three sites")
    page.fill("#place-code", "evora")
    assert [place.inner_text().count("Évora Nova") for place in page.query_selector_all(".place")] == [1]
    page.press("#place-code", "Enter")
    wait_for(lambda: "Évora" in page.inner_text("#where-address"), "the site in that town")
    page.evaluate("location.hash = '#places'")
    page.fill("#place-code", "nowhere at all")
    assert "None of your sites" in page.inner_text("#place-list")
    page.press("#place-code", "Enter")
    assert "eight symbols" in page.inner_text("#place-say")
    page.fill("#place-code", site.code.lower())
    page.press("#place-code", "Enter")
    wait_for(lambda: page.inner_text("#where-code") == site.written_code, "the site of that code")


def test_nobody_signed_in_is_led_to_signing_in(phone_before):
    page = phone_before().open()
    wait_for(lambda: page.inner_text("#post-words") == "Sign in", "the page to ask")
    assert page.is_visible("#places-sign-in")
    assert page.get_attribute("#places-sign-in", "href") == "/accounts/login/?next=/field/"
