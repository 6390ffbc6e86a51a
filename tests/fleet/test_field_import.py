"""The office takes over what a failing phone saved: looked at, marked, confirmed by a person, and taken once."""

import json
from typing import Any
from uuid import uuid4

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from fleet.models import Device, FieldRecord, Member, Role, Scan, Site
from onboarding.models import ConsentEntry
from tests import rows

pytestmark = pytest.mark.django_db
LABEL = "010952012345678821SN000001"


@pytest.fixture
def office() -> Member:
    return rows.make_member(Role.OFFICE)


@pytest.fixture
def site(office: Member) -> Site:
    return rows.make_site(office.company)


@pytest.fixture
def desk(office: Member) -> Client:
    client = Client()
    client.force_login(office.user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def _record(kind: str, site: Site, content: dict[str, Any]) -> dict[str, Any]:
    return {
        "id": str(uuid4()), "kind": kind, "seq": 1, "installation": str(uuid4()), "member": str(uuid4()),
        "site": site.written_code, "made_at": "2026-06-01T12:00:00Z", "content": content,
    }  # fmt: skip


def _file(*records: Any, **more: Any) -> SimpleUploadedFile:
    document = {
        "format": "rooftally-field-records", "version": 1, "holder": {"name": "Rui Campo"}, "records": records, **more,
    }  # fmt: skip
    return SimpleUploadedFile("rooftally.json", json.dumps(document).encode(), "application/json")


def _take(desk: Client, record: dict[str, Any]) -> str:
    answer = desk.post("/field/import/record", {"record": json.dumps(record)}, headers={"HX-Request": "true"})
    assert answer.status_code == 200
    return answer.content.decode()


def test_the_file_is_shown_and_nothing_is_taken_yet(desk: Client, site: Site):
    page = desk.post("/field/import", {"file": _file(_record("scan", site, {"raw": LABEL, "source": "camera"}))})
    assert LABEL in page.content.decode()
    assert "Rui Campo" in page.content.decode()
    assert not Scan.objects.exists()


def test_a_taken_scan_is_linked_marked_and_taken_once(desk: Client, site: Site):
    record = _record("scan", site, {"raw": LABEL, "format": "]d2", "source": "camera"})
    for _ in range(2):
        assert 'data-outcome="linked"' in _take(desk, record)
    scan = Scan.objects.get()
    assert scan.from_emergency_file
    assert Device.objects.count() == 1


def test_a_consent_from_a_file_is_only_what_staff_report(desk: Client, site: Site):
    owner = rows.make_owner(site.company)
    rows.own(owner, site)
    said = {"owner": str(owner.public_id), "purpose": "contact", "state": "given", "how": "signature"}
    assert 'data-outcome="taken"' in _take(desk, _record("consent", site, said))
    assert ConsentEntry.objects.get().evidence == "staff_statement"
    assert FieldRecord.objects.get().from_emergency_file


def test_another_companys_site_in_a_file_is_refused(desk: Client):
    theirs = rows.make_site(rows.make_company())
    assert 'data-outcome="refused"' in _take(desk, _record("scan", theirs, {"raw": LABEL, "source": "camera"}))
    assert not Scan.objects.exists()


@pytest.mark.parametrize(
    "broken",
    [b"", b"{", b"[]", b'{"format": "other"}', b'{"format": "rooftally-field-records", "version": 1, "records": [1]}',
     b"[" * 100_000],
)  # fmt: skip
def test_what_is_no_such_file_is_refused_whole(desk: Client, broken: bytes):
    answer = desk.post("/field/import", {"file": SimpleUploadedFile("x.json", broken)})
    assert answer.status_code == 422


def test_a_broken_record_is_refused_with_a_sentence(desk: Client):
    for source in ("", "{", "5", '{"kind": "scan"}'):
        answer = desk.post("/field/import/record", {"record": source}, headers={"HX-Request": "true"})
        assert 'data-outcome="refused"' in answer.content.decode()
