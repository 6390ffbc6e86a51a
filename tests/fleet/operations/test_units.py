"""Two units are never counted as one: a serial without a known issuer counts within its part number, or a person says.

ISO/IEC 15434 format 06 with the data identifiers 1P (part number) and S (serial) of ANSI MH10.8.2.
"""

from dataclasses import replace
from importlib import import_module
from uuid import uuid4

import pytest
from django.apps import apps
from django.urls import reverse

from fleet.models import Device, LabelForm, Placement, Role, Scan
from fleet.operations.scans import record_scan
from tests import rows
from tests.factories import make_capture, make_company, make_member, make_site

pytestmark = pytest.mark.django_db


def message(*elements: str) -> str:
    return "[)>\x1e06\x1d" + "\x1d".join(elements) + "\x1e\x04"


INVERTER, BATTERY = message("1PINV-5", "S70001"), message("1PBAT-10", "S70001")


def scan(office, site, raw, **more):
    return record_scan(actor=office, capture=make_capture(site, raw, format="", **more)).document


def another(office, site, raw):
    """The person looked and says: another unit."""
    return scan(office, site, raw, confirmed=True, another_unit=True)


def parts(site):
    return sorted(Placement.objects.filter(site=site, until=None).values_list("device__part_number", flat=True))


def test_the_same_serial_under_another_part_number_is_not_already_here():
    office = make_member()
    site = make_site(office)
    assert scan(office, site, INVERTER)["outcome"] == "linked"
    asked = scan(office, site, BATTERY)
    assert (asked["outcome"], [unit["serial"] for unit in asked["candidates"]]) == ("confirm", ["70001"])
    assert scan(office, site, BATTERY, confirmed=True)["outcome"] == "linked"
    assert parts(site) == ["BAT-10", "INV-5"]
    assert [scan(office, site, label)["outcome"] for label in (INVERTER, BATTERY)] == ["already_here"] * 2
    assert Device.objects.count() == 2


def test_a_bare_serial_that_two_units_bear_asks_which_one_is_meant():
    office = make_member()
    site = make_site(office)
    scan(office, site, INVERTER)
    scan(office, site, BATTERY, confirmed=True)
    asked = scan(office, site, "70001")
    assert (asked["outcome"], len(asked["candidates"])) == ("confirm", 2)
    battery = Device.objects.get(part_number="BAT-10")
    chosen = scan(office, site, "70001", confirmed=True, meant_device=battery.public_id)
    assert (chosen["outcome"], chosen["device"]["id"]) == ("already_here", str(battery.public_id))


def test_a_bare_serial_scanned_twice_is_one_unit_or_two_as_a_person_says():
    office = make_member()
    site = make_site(office)
    assert scan(office, site, "A-4711", confirmed=True)["outcome"] == "linked"
    first = Device.objects.get()
    asked = scan(office, site, "A-4711")
    assert (asked["outcome"], asked["reason"]) == ("confirm", "same_serial")
    assert scan(office, site, "A-4711", confirmed=True)["outcome"] == "confirm"  # has not seen the other unit
    same = scan(office, site, "A-4711", confirmed=True, meant_device=first.public_id)
    assert (same["outcome"], Device.objects.count()) == ("already_here", 1)
    assert another(office, site, "A-4711")["outcome"] == "linked"
    assert Placement.objects.filter(site=site, until=None, device__serial="A-4711").count() == 2


def test_a_bare_serial_that_stands_at_another_site_is_asked_about_before_it_is_moved():
    office = make_member()
    there, here = make_site(office), make_site(office)
    scan(office, there, "A-4711", confirmed=True)
    asked = scan(office, here, "A-4711")
    assert asked["outcome"] == "confirm"
    assert [unit["site"]["code"] for unit in asked["candidates"]] == [there.written_code]


def test_a_field_member_is_not_told_of_a_unit_at_a_site_that_is_hidden_from_them():
    office = make_member()
    there, here = make_site(office), make_site(office)
    field = make_member(office.company, Role.FIELD)
    rows.assign(field, here)
    scan(office, there, "A-4711", confirmed=True)
    asked = scan(field, here, "A-4711")
    assert (asked["outcome"], asked["reason"], asked["candidates"]) == ("confirm", "plain_reading", [])
    assert scan(field, here, "A-4711", confirmed=True)["outcome"] == "linked"
    assert Placement.objects.filter(until=None, device__serial="A-4711").count() == 2


@pytest.mark.parametrize("code", ["12V987654321", "18VD12345", "25VUN123456789"])
def test_a_manufacturer_that_numbers_each_product_from_one_has_two_units(code):
    office = make_member()
    site = make_site(office)
    assert scan(office, site, message(code, "1PINV-5", "S70001"))["outcome"] == "linked"
    asked = scan(office, site, message(code, "1PBAT-10", "S70001"))
    assert (asked["outcome"], asked["reason"]) == ("confirm", "facts_differ")
    assert another(office, site, message(code, "1PBAT-10", "S70001"))["outcome"] == "linked"
    assert parts(site) == ["BAT-10", "INV-5"]
    assert scan(office, site, message(code, "1PBAT-10", "S70001"))["outcome"] == "already_here"
    assert scan(office, site, message(code, "S70001"))["outcome"] == "confirm"


def test_a_taught_form_tells_units_apart_by_its_model():
    office = make_member()
    site = make_site(office)
    LabelForm.objects.create(
        company=office.company, name="Old meters", pattern=r"ZL/(?P<serial>[0-9]{6})/(?P<model>[A-Z]{2})"
    )
    assert scan(office, site, "ZL/004711/AB")["outcome"] == "linked"
    assert scan(office, site, "ZL/004711/AB")["outcome"] == "already_here"
    LabelForm.objects.update(name="Meters of the old kind")
    assert scan(office, site, "ZL/004711/AB")["outcome"] == "already_here"
    assert scan(office, site, "ZL/004711/CD")["outcome"] == "confirm"
    assert scan(office, site, "ZL/004711/CD", confirmed=True)["outcome"] == "linked"
    assert Device.objects.count() == 2


def test_a_later_label_with_the_part_number_upgrades_the_bare_unit_and_keeps_its_history():
    office = make_member()
    site = make_site(office)
    scan(office, site, "70001", confirmed=True)
    device = Device.objects.get()
    assert scan(office, site, INVERTER)["reason"] == "same_serial"
    scan(office, site, INVERTER, confirmed=True, meant_device=device.public_id)
    device.refresh_from_db()
    assert (device.numbered_within, device.part_number, Device.objects.count()) == ("part:INV-5", "INV-5", 1)
    assert Scan.objects.filter(device=device).count() == 2
    assert scan(office, site, INVERTER)["outcome"] == "already_here"


def test_what_another_company_holds_changes_no_answer():
    here, there = make_member(), make_member(make_company("Other"))
    scan(there, make_site(there), INVERTER)
    assert scan(here, make_site(here), BATTERY)["outcome"] == "linked"


def test_devices_of_before_are_told_apart_and_what_cannot_be_decided_is_listed_for_the_office(client):
    office = make_member()
    site = make_site(office)
    scan(office, site, INVERTER)
    device = Device.objects.get()
    Device.objects.update(numbered_within="")  # as it was before
    lost = make_capture(site, BATTERY, format="")
    record_scan(actor=office, capture=replace(lost, id=uuid4(), confirmed=True, meant_device=device.public_id))
    Device.objects.update(numbered_within="", part_number="INV-5")
    fill = import_module("fleet.migrations.0006_fill_unit_identity").fill
    for _again in range(2):
        fill(apps, None)
    device.refresh_from_db()
    assert device.numbered_within == "part:INV-5"
    client.force_login(office.user)
    listed = client.get(reverse("fleet:labels_waiting")).content.decode()
    doubtful = Scan.objects.get(doubt__isnull=False)
    assert reverse("fleet:scan_result", args=[site.code, doubtful.client_id]) in listed
    client.post(reverse("fleet:confirm_scan", args=[site.code, doubtful.client_id]), {"device": ""})
    assert parts(site) == ["BAT-10", "INV-5"]
    assert "Every scanned label is settled" in client.get(reverse("fleet:labels_waiting")).content.decode()
    battery = Placement.objects.get(device__part_number="BAT-10")
    assert battery.since == doubtful.scanned_at
