"""No password of a label is in any table, page or answer; what older versions kept can be redacted."""

import json
from io import StringIO
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.db import IntegrityError, connection, transaction
from django.urls import reverse

from fleet.guards import missing_guards
from fleet.models import AuditEntry, Scan
from fleet.operations.field_entries import read_entry
from fleet.operations.field_records import take_record
from fleet.operations.scans import record_scan
from tests.factories import NOON, make_capture, make_member, make_site

pytestmark = pytest.mark.django_db
SECRET = "hunter2-Zx"
LABELS = [
    f"SN:0001;SSID:home;PWD:{SECRET}", f'"WIFI:T:WPA;S:home;P:{SECRET};;"', f"SSID:home;PASSWORD:{SECRET}",
    f"WIFI :T:WPA;S:home;P:{SECRET};;", f"SN=0002,PIN={SECRET}",
]  # fmt: skip


def everything_stored():
    """All rows of all tables, as text."""
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names():
            cursor.execute(f'SELECT * FROM "{table}"')
            yield from (repr(row) for row in cursor.fetchall())


def assert_nowhere():
    assert not [row for row in everything_stored() if SECRET in row]


@pytest.mark.parametrize("raw", LABELS)
@pytest.mark.parametrize("place", ["first", "further"])
def test_a_scanned_password_is_in_no_table_and_no_answer(raw, place):
    office = make_member()
    site = make_site(office)
    codes = {"raw": raw} if place == "first" else {"raw": "010952012345678821SN0001", "more": ((raw, "]Q1"),)}
    answer = record_scan(actor=office, capture=make_capture(site, format="]Q1" if place == "first" else "]d2", **codes))
    assert SECRET not in json.dumps(answer.document, default=str)
    assert_nowhere()


def test_the_serial_in_the_same_label_is_read_and_linked_once_confirmed():
    office = make_member()
    site = make_site(office)
    capture = make_capture(site, LABELS[0], format="]Q1", confirmed=True)
    answer = record_scan(actor=office, capture=capture).document
    assert (answer["outcome"], answer["device"]["serial"]) == ("linked", "0001")
    assert record_scan(actor=office, capture=capture).repeated
    assert "withheld-" in Scan.objects.get().payload


@pytest.mark.parametrize("raw", LABELS)
def test_an_api_answer_and_its_repeat_hold_none(client, raw):
    office = make_member()
    site = make_site(office)
    client.force_login(office.user)
    body = {"id": str(uuid4()), "site": site.code, "raw": raw, "format": "]Q1", "scanned_at": NOON.isoformat()}
    for _twice in range(2):
        answer = client.post(
            reverse("api:scans"), body, content_type="application/json", headers={"Idempotency-Key": "once"}
        )
        assert answer.status_code in {200, 201}, answer.content
        assert SECRET not in answer.content.decode()
    explained = client.post(reverse("api:decode_label"), {"payload": raw}, content_type="application/json")
    assert SECRET not in explained.content.decode()
    assert_nowhere()


@pytest.mark.parametrize("raw", LABELS)
def test_a_typed_label_shows_none_on_the_page_that_follows(client, raw):
    office = make_member()
    site = make_site(office)
    client.force_login(office.user)
    page = client.post(reverse("fleet:scan", args=[site.code]), {"record": str(uuid4()), "text": raw}, follow=True)
    assert page.status_code == 200
    assert SECRET not in page.content.decode()
    assert_nowhere()


def test_records_of_the_phone_and_of_its_emergency_file_hold_none():
    office = make_member()
    site = make_site(office)
    for number, raw in enumerate(LABELS):
        record = {
            "id": str(uuid4()), "kind": "scan", "member": str(office.public_id), "made_at": NOON.isoformat(),
            "seq": number,
            "site": site.code, "content": {"raw": raw, "format": "]Q1", "source": "camera"},
        }  # fmt: skip
        for from_file in (False, True):
            taken = take_record(actor=office, entry=read_entry(record, from_emergency_file=from_file))
            assert SECRET not in json.dumps(taken.document, default=str)
    assert_nowhere()


def test_what_was_kept_before_is_counted_then_redacted_on_the_trail_and_the_guard_stands_again():
    office = make_member()
    site = make_site(office)
    scan = record_scan(actor=office, capture=make_capture(site, "SN:0001;SSID:home;PWD:x", format="]Q1")).scan
    elements = [{"identifier": "SN", "value": "0001"}, {"identifier": "PWD", "value": SECRET}]
    old = Scan(
        company=office.company, client_id=uuid4(), fingerprint="0" * 64, user=office.user, member=office, site=site,
        payload=f"SN:0001;SSID:home;PWD:{SECRET}", symbology="]Q1", source="camera", scanned_at=NOON, outcome="confirm",
        reading={"elements": elements, "further_codes": [[f'"WIFI:T:WPA;P:{SECRET};;"', ""], ["SN0001", ""]]},
    )  # fmt: skip
    old.save()
    counted = StringIO()
    call_command("redact_secrets", stdout=counted)
    assert "fleet_scan: 1 row(s)" in counted.getvalue()
    assert "Nothing was changed" in counted.getvalue()
    told = StringIO()
    call_command("redact_secrets", "--apply", stdout=told)
    assert "Backups made before" in told.getvalue()
    assert_nowhere()
    old.refresh_from_db()
    assert old.payload.startswith("SN:0001;SSID:home;PWD:withheld-")
    assert old.reading["further_codes"] == [["SN0001", ""]]
    assert AuditEntry.objects.filter(act="redact_secrets", company=office.company).count() == 1
    assert missing_guards(connection) == []
    with pytest.raises(IntegrityError), transaction.atomic():
        Scan.objects.filter(pk=scan.pk).update(payload="changed")
    again = StringIO()
    call_command("redact_secrets", "--apply", stdout=again)
    assert "fleet_scan: 0 row(s)" in again.getvalue()
