from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from fleet.models import Assignment, AuditEntry, Device, LabelForm, Outcome, Placement, Role, Scan, Stage
from fleet.operations.placements import move_device
from fleet.operations.scans import RecordMismatch, record_scan
from fleet.operations.site_guard import UnknownSite
from tests.factories import NOON, make_capture, make_company, make_member, make_site

pytestmark = pytest.mark.django_db
GTIN = "09520123456788"
LABEL = f"01{GTIN}21SN0001"


def test_a_new_device_is_made_and_placed_and_the_site_becomes_installed():
    office = make_member()
    site = make_site(office)
    answer = record_scan(actor=office, capture=make_capture(site, LABEL))
    device = Device.objects.get()
    assert answer.document["outcome"] == "linked"
    assert (device.issuer_scheme, device.issuer, device.serial) == ("gs1-gtin", GTIN, "SN0001")
    assert Placement.objects.get().since == NOON
    site.refresh_from_db()
    assert site.stage == Stage.INSTALLED
    assert AuditEntry.objects.filter(act="place_device", site=site, member=office).count() == 1


def test_the_same_record_again_gets_the_stored_answer_and_changes_nothing():
    office = make_member()
    capture = make_capture(make_site(office), LABEL)
    first = record_scan(actor=office, capture=capture)
    again = record_scan(actor=office, capture=capture)
    assert again.repeated
    assert again.document == first.document
    assert Scan.objects.count() == Placement.objects.count() == 1


@pytest.mark.parametrize(
    "change",
    [{"raw": LABEL + "X"}, {"format": "]Q3"}, {"source": "typed"}, {"seq": 9}, {"installation": uuid4()},
     {"scanned_at": NOON + timedelta(seconds=1)}],
)  # fmt: skip
def test_the_same_id_with_other_content_is_refused(change):
    office = make_member()
    capture = make_capture(make_site(office), LABEL)
    record_scan(actor=office, capture=capture)
    with pytest.raises(RecordMismatch):
        record_scan(actor=office, capture=replace(capture, **change))
    assert Scan.objects.count() == 1


def test_the_same_record_written_otherwise_is_the_same_record():
    office = make_member()
    site = make_site(office)
    capture = make_capture(site, LABEL)
    record_scan(actor=office, capture=capture)
    same = replace(capture, site_code=site.written_code.lower(), scanned_at=NOON.astimezone(site.zone), confirmed=True)
    assert record_scan(actor=office, capture=same).repeated


def test_another_member_cannot_use_the_same_record():
    office = make_member()
    capture = make_capture(make_site(office), LABEL)
    record_scan(actor=office, capture=capture)
    with pytest.raises(RecordMismatch):
        record_scan(actor=make_member(office.company), capture=capture)


def test_another_company_may_use_the_same_id_and_the_same_label():
    here, there = make_member(), make_member(make_company("Other"))
    capture = make_capture(make_site(here), LABEL)
    record_scan(actor=here, capture=capture)
    answer = record_scan(actor=there, capture=replace(capture, site_code=make_site(there).code))
    assert answer.document["outcome"] == "linked"
    assert Device.objects.count() == 2


def test_a_site_of_another_company_is_unknown_and_nothing_is_kept():
    office, stranger = make_member(), make_member(make_company("Other"))
    with pytest.raises(UnknownSite):
        record_scan(actor=stranger, capture=make_capture(make_site(office), LABEL))
    assert not Scan.objects.exists()
    assert not Device.objects.exists()


def test_a_device_that_stands_elsewhere_is_not_moved_and_the_other_site_is_named():
    office = make_member()
    first, second = make_site(office), make_site(office)
    record_scan(actor=office, capture=make_capture(first, LABEL))
    answer = record_scan(actor=office, capture=make_capture(second, LABEL)).document
    assert answer["outcome"] == "elsewhere"
    assert answer["other_site"]["code"] == first.written_code
    assert Placement.objects.get().site == first


def test_the_other_site_is_not_named_to_a_field_member_who_may_not_see_it():
    office = make_member()
    first, second = make_site(office), make_site(office)
    field = make_member(office.company, Role.FIELD)
    Assignment.objects.create(company=office.company, member=field, site=second)
    record_scan(actor=office, capture=make_capture(first, LABEL))
    answer = record_scan(actor=field, capture=make_capture(second, LABEL)).document
    assert answer["outcome"] == "elsewhere"
    assert answer["other_site"] is None
    assert answer["device"] is None


def test_a_plain_serial_waits_for_a_person_and_is_linked_once_confirmed():
    office = make_member()
    site = make_site(office)
    typed = make_capture(site, "SN-0042", format="", source="typed")
    assert record_scan(actor=office, capture=typed).document["outcome"] == "confirm"
    assert not Device.objects.exists()
    answer = record_scan(actor=office, capture=replace(typed, id=uuid4(), confirmed=True)).document
    assert answer["outcome"] == "linked"
    assert Device.objects.get().serial == "SN-0042"


def test_a_typed_serial_names_the_look_alikes_and_chooses_none():
    office = make_member()
    site, other = make_site(office), make_site(office)
    record_scan(actor=office, capture=make_capture(other, f"01{GTIN}21SNO001"))
    answer = record_scan(actor=office, capture=make_capture(site, "SN0001", format="", source="typed")).document
    assert answer["outcome"] == "confirm"
    assert [candidate["serial"] for candidate in answer["candidates"]] == ["SNO001"]
    assert answer["candidates"][0]["site"]["code"] == other.written_code
    assert answer["candidates"][0]["why"] == "alike"


def test_a_serial_typed_with_one_wrong_character_names_the_device_it_may_mean():
    office = make_member()
    site = make_site(office)
    record_scan(actor=office, capture=make_capture(make_site(office), f"01{GTIN}21SN77421"))
    answer = record_scan(actor=office, capture=make_capture(site, "SN77431", format="", source="typed")).document
    assert [(candidate["serial"], candidate["why"]) for candidate in answer["candidates"]] == [("SN77421", "one_edit")]


def test_a_label_form_of_the_companys_own_is_read_and_nobody_elses():
    office, stranger = make_member(), make_member(make_company("Other"))
    pattern = r"ZL/(?P<serial>[0-9]{6})/(?P<model>[A-Z]{2})"
    LabelForm.objects.create(company=office.company, name="Old meters", pattern=pattern)
    label = {"raw": "ZL/004711/AB", "format": "]C0"}
    answer = record_scan(actor=office, capture=make_capture(make_site(office), **label)).document
    assert (answer["outcome"], answer["device"]["serial"]) == ("linked", "004711")
    foreign = record_scan(actor=stranger, capture=make_capture(make_site(stranger), **label)).document
    assert foreign["outcome"] == "confirm"


def test_the_plain_code_beside_a_structured_one_is_the_same_device():
    office = make_member()
    site = make_site(office)
    record_scan(actor=office, capture=make_capture(site, LABEL))
    answer = record_scan(actor=office, capture=make_capture(site, "SN0001", format="]C0")).document
    assert answer["outcome"] == "already_here"
    assert Device.objects.count() == 1


def test_a_structured_reading_of_a_serial_known_without_issuer_upgrades_it_after_confirmation():
    office = make_member()
    site = make_site(office)
    plain = make_capture(site, "SN0001", format="", source="typed", confirmed=True)
    record_scan(actor=office, capture=plain)
    structured = make_capture(site, LABEL)
    answer = record_scan(actor=office, capture=structured).document
    assert (answer["outcome"], answer["reason"]) == ("confirm", "same_serial")
    device = Device.objects.get()
    confirmed = replace(structured, id=uuid4(), confirmed=True, meant_device=device.public_id)
    assert record_scan(actor=office, capture=confirmed).document["outcome"] == "already_here"
    device.refresh_from_db()
    assert (device.issuer_scheme, device.issuer) == ("gs1-gtin", GTIN)
    assert Device.objects.count() == 1


@pytest.mark.parametrize(
    ("raw", "symbology", "reason"),
    [
        ("010952012345678921SN1", "]d2", "bad_check_digit"),
        (f"01{GTIN}10LOT7", "]d2", "no_serial"),
        ("", "]d2", "empty"),
    ],
)
def test_a_bad_label_is_kept_as_refused_and_links_nothing(raw, symbology, reason):
    office = make_member()
    capture = replace(make_capture(make_site(office)), raw=raw, format=symbology)
    answer = record_scan(actor=office, capture=capture).document
    assert (answer["outcome"], answer["reason"]) == ("refused", reason)
    assert answer["why"]
    assert Scan.objects.get().outcome == Outcome.REFUSED
    assert not Device.objects.exists()


@pytest.mark.parametrize(
    "raw", ["WIFI:T:WPA;S:site;P:secret;;", "\ufeff WIFI:T:WPA;S:site;P:secret;;", "]Q1WIFI:P:secret;;"]
)
def test_of_a_wifi_password_nothing_is_kept(raw):
    office = make_member()
    record_scan(actor=office, capture=make_capture(make_site(office), raw, format="]Q1"))
    scan = Scan.objects.get()
    assert scan.payload == ""
    assert "secret" not in str(scan.reading) + str(scan.answer)
    assert scan.payload_length == len(raw)
    assert len(scan.payload_mac) == 64


def test_a_password_beside_a_good_code_is_not_kept_either():
    office = make_member()
    capture = make_capture(make_site(office), LABEL, more=(("WIFI:T:WPA;S:site;P:secret;;", "]Q1"),))
    assert record_scan(actor=office, capture=capture).document["outcome"] == "linked"
    assert "secret" not in str(Scan.objects.values().get())


def test_a_scan_older_than_the_open_placement_never_moves_the_device():
    office = make_member()
    first, second = make_site(office), make_site(office)
    record_scan(actor=office, capture=make_capture(first, LABEL))
    late = make_capture(second, LABEL, scanned_at=NOON - timedelta(days=30))
    assert record_scan(actor=office, capture=late).document["outcome"] == "elsewhere"
    assert Placement.objects.get().site == first


def test_a_placement_starts_no_earlier_than_the_last_one_ended_and_no_later_than_now():
    office = make_member()
    first, second = make_site(office), make_site(office)
    record_scan(actor=office, capture=make_capture(first, LABEL))
    device = Device.objects.get()
    move_device(actor=office, device=device, to_site=second, at=NOON + timedelta(days=2))
    ahead = make_capture(first, f"01{GTIN}21SN0002", scanned_at=timezone.now() + timedelta(days=400))
    record_scan(actor=office, capture=ahead)
    assert Placement.objects.get(device=device, site=second).since == NOON + timedelta(days=2)
    assert Placement.objects.get(device__serial="SN0002").since <= timezone.now()


def test_a_label_from_an_emergency_file_must_be_confirmed():
    office = make_member()
    capture = make_capture(make_site(office), LABEL, from_emergency_file=True)
    assert record_scan(actor=office, capture=capture).document["outcome"] == "confirm"


def test_a_number_of_a_site_that_is_retired_links_nothing():
    office = make_member()
    site = make_site(office)
    from fleet.operations.site_stages import retire_site

    retire_site(actor=office, site=site)
    answer = record_scan(actor=office, capture=make_capture(site, LABEL)).document
    assert (answer["outcome"], answer["reason"]) == ("refused", "site_retired")
