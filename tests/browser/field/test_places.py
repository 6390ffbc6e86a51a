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
