"""What became of each record, in plain words on one screen, with the move that settles it."""

import pytest

from fleet.models import Placement, Site
from tests import rows
from tests.browser.field.phone import Phone, wait_for
from tests.browser.field.proxy import Network

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
ELEMENT_STRING = "010952012345678821SN{:06d}"


def _fates(phone: Phone) -> list[str]:
    phone.page.evaluate("location.hash = '#fates'")
    wait_for(phone.all_answered, "all to be answered")
    return [line.inner_text() for line in phone.page.query_selector_all("#fate-list .fate")]


def _standing(site: Site, serial: str) -> Placement:
    """A device with the serial of such a label, linked at this site by the register's own hands."""
    device = rows.make_device(site.company, serial=serial, issuer_scheme="gs1-gtin", issuer="09520123456788")
    return rows.place(device, site)


def test_every_fate_is_told_in_words(at_site: Phone, network: Network, technician, site: Site):
    other = rows.make_site(technician.company)
    rows.assign(technician, other)
    _standing(site, "SN000002")
    _standing(other, "SN000003")
    _standing(rows.make_site(technician.company), "SN000004")
    network.mode = "down"
    for number in (1, 2, 3, 4):
        at_site.see(ELEMENT_STRING.format(number))
    at_site.see("PLAIN-12345", "]C0")
    at_site.see("010952012345678921SN000006")  # a wrong check digit
    assert [record["state"] for record in at_site.records()] == ["waiting"] * 6
    network.mode = "good"
    fates = _fates(at_site)
    states = [record["state"] for record in at_site.records()]
    assert states == ["linked", "already_here", "elsewhere", "elsewhere", "confirm", "refused"]
    told = [  # newest first, and what needs an eye before the rest
        ("Refused", "check digit"),
        ("Needs your eye", "Read as: PLAIN-12345"),
        ("Stands elsewhere", "a site that you do not see"),
        (f"It stands at {other.written_code}", "Move it here"),
        ("Already here", "SN000002"),
        ("Linked", "SN000001"),
    ]
    for fate, words in zip(fates, told, strict=True):
        assert [word for word in words if word not in fate] == [], fate
    wait_for(lambda: at_site.page.inner_text("#post-words") == "4 need your eye", "the count")


def test_a_device_that_stands_elsewhere_is_moved_on_request(at_site: Phone, network: Network, technician, site: Site):
    other = rows.make_site(technician.company)
    rows.assign(technician, other)
    placement = _standing(other, "SN000001")
    at_site.see(ELEMENT_STRING.format(1))
    _fates(at_site)
    network.mode = "down"
    at_site.page.click("#fate-list button:has-text('Move it here')")
    wait_for(lambda: "needs internet" in at_site.page.inner_text("#fate-list"), "the page to say so")
    assert placement.device.placements.get(until__isnull=True).site == other
    network.mode = "good"
    at_site.page.click("#fate-list button:has-text('Move it here')")
    wait_for(lambda: "Moved" in at_site.page.inner_text("#fate-list"), "the move")
    assert placement.device.placements.get(until__isnull=True).site == site
    wait_for(lambda: at_site.page.inner_text("#post-words") == "All sent", "nothing to be left")


def test_a_plain_reading_is_confirmed_by_a_record_of_its_own(at_site: Phone, site: Site):
    at_site.see("PLAIN-12345", "]C0")
    _fates(at_site)
    (first,) = at_site.records()
    at_site.page.click("#fate-list button:has-text('It is right, link it')")
    wait_for(lambda: len(at_site.records()) == 2 and at_site.all_answered(), "the confirmation")
    before, after = at_site.records()
    assert before == first | {"settled_by": after["id"]}
    assert after["state"] == "linked"
    assert Placement.objects.get(site=site, until__isnull=True).device.serial == "PLAIN-12345"
