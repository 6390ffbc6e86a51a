"""What the field page sends: taken once, in order, answered by UUID, each in its own transaction."""

import base64
import json
from typing import Any
from uuid import UUID, uuid4

import pytest
from django.test import Client

from fleet.models import (
    AuditEntry,
    Device,
    ExpectedDevice,
    FieldRecord,
    HandoverCheck,
    Member,
    Placement,
    Role,
    Scan,
    Site,
    SiteSighting,
    StoredFile,
)
from onboarding.models import ConsentEntry, Wording
from tests import rows
from tests.api.conftest import problem

pytestmark = pytest.mark.django_db
PNG = base64.b64encode(b"\x89PNG\r\n\x1a\n" + b"0" * 40).decode()
SIGNED = base64.b64encode(b"\x89PNG\r\n\x1a\n" + b"1" * 40).decode()
LABEL = "010952012345678821SN000001"
numbers = iter(range(1, 10_000))


class Phone:
    """Sends records as the page does: with the session's cookie and the CSRF token that the session answer gave."""

    def __init__(self, member: Member) -> None:
        self.member = member
        self.client = Client(enforce_csrf_checks=True)
        self.client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
        self.session: dict[str, Any] = self.client.get("/api/field/session").json()

    def send(self, *records: Any, csrf: str | None = None) -> Any:
        headers = {"X-CSRFToken": self.session["csrf"] if csrf is None else csrf}
        return self.client.post(
            "/api/field/records", json.dumps({"records": records}), "application/json", headers=headers
        )

    def answers(self, *records: Any) -> list[dict[str, Any]]:
        answer = self.send(*records)
        assert answer.status_code == 200, answer.content
        document = answer.json()
        assert document["server"] == "rooftally"
        assert [one["id"] for one in document["answers"]] == [record.get("id") for record in records]
        found: list[dict[str, Any]] = document["answers"]
        return found

    def record(self, kind: str, site: Site | None, content: dict[str, Any], **more: Any) -> dict[str, Any]:
        return {
            "id": str(uuid4()), "kind": kind, "seq": next(numbers), "installation": str(UUID(int=7)), "schema": 1,
            "member": str(self.member.public_id), "site": site.written_code if site else "",
            "made_at": "2026-06-01T12:00:00.123Z", "content": content, "page_version": "x", **more,
        }  # fmt: skip

    def scan(self, site: Site, raw: str = LABEL, **content: Any) -> dict[str, Any]:
        return self.record("scan", site, {"raw": raw, "format": "]d2", "source": "camera", **content})


@pytest.fixture
def site() -> Site:
    return rows.make_site(rows.make_company())


@pytest.fixture
def phone(site: Site) -> Phone:
    member = rows.make_member(Role.FIELD, site.company)
    rows.assign(member, site)
    return Phone(member)


def test_the_session_names_our_server_the_member_and_the_days_work(phone: Phone, site: Site):
    ExpectedDevice.objects.create(company=site.company, site=site, kind="inverter", serial="SN000001")
    HandoverCheck.objects.create(company=site.company, site=site, title="Isolation measured")
    owner = rows.make_owner(site.company)
    rows.own(owner, site)
    rows.make_consent(site, owner, "contact")
    hidden = rows.make_site(site.company)
    session = phone.client.get("/api/field/session").json()
    assert (session["server"], session["member"]) == ("rooftally", str(phone.member.public_id))
    assert session["user"] == str(phone.member.user_id)
    (shown,) = session["work"]["sites"]
    assert shown["code"] == site.written_code
    assert shown["expected"][0]["serial"] == "SN000001"
    assert shown["checks"] == [{"title": "Isolation measured", "finding": "open", "note": ""}]
    assert shown["owners"][0]["permissions"] == {"contact": "given"}
    assert hidden.written_code not in json.dumps(session)


def test_signed_out_is_401_and_no_member_403(phone: Phone, site: Site):
    phone.client.logout()
    problem(phone.client.get("/api/field/session"), 401, "not_authenticated")
    problem(phone.send(phone.scan(site)), 401, "not_authenticated")
    assert not Scan.objects.exists()
    outsider = Client()
    outsider.force_login(rows.make_user(), backend="django.contrib.auth.backends.ModelBackend")
    problem(outsider.get("/api/field/session"), 403, "not_a_member")


def test_without_the_csrf_token_nothing_is_taken(phone: Phone, site: Site):
    problem(phone.send(phone.scan(site), csrf=""), 403, "csrf_failed")
    assert not Scan.objects.exists()


def test_a_scan_sent_again_is_answered_alike_and_linked_once(phone: Phone, site: Site):
    scan = phone.scan(site)
    (first,), (again,) = phone.answers(scan), phone.answers(scan)
    assert (first["status"], again["status"]) == (201, 200)
    assert first["result"] == again["result"]
    assert first["result"]["outcome"] == "linked"
    kept = Scan.objects.get()
    assert (kept.seq, kept.installation) == (scan["seq"], UUID(int=7))
    assert Placement.objects.count() == 1


@pytest.mark.parametrize("change", [{"seq": 99_999}, {"made_at": "2026-06-01T12:00:01Z"}, {"raw": "x"}])
def test_the_same_uuid_with_other_content_is_refused(phone: Phone, site: Site, change: dict[str, Any]):
    scan = phone.scan(site)
    phone.answers(scan)
    other = scan | change
    if "raw" in change:
        other = scan | {"content": scan["content"] | change}
    (answer,) = phone.answers(other)
    assert answer["problem"]["code"] == "record_mismatch"
    assert Device.objects.count() == 1


def test_every_kind_is_taken_once_and_answered_alike(phone: Phone, site: Site):
    owner = rows.make_owner(site.company)
    rows.own(owner, site)
    records = [
        phone.record("check", site, {"title": "Isolation measured", "finding": "done", "note": "2 MΩ"}),
        phone.record("file", site, {"name": "roof.png", "content_type": "image/png", "data": PNG}),
        phone.record("consent", site, {
            "owner": str(owner.public_id), "purpose": "contact", "state": "given", "how": "signature",
            "signature": SIGNED,
        }),
        phone.record("sight", None, {"raw": f"http://127.0.0.1:8000/s/{site.code}", "format": "]Q1",
                                     "source": "camera"}),
    ]  # fmt: skip
    first, again = phone.answers(*records), phone.answers(*records)
    assert [answer["status"] for answer in first] == [201] * 4, first
    assert [answer["status"] for answer in again] == [200] * 4
    assert [answer["result"] for answer in first] == [answer["result"] for answer in again]
    assert HandoverCheck.objects.get().finding == "done"
    assert AuditEntry.objects.filter(act="record_check").count() == 1
    assert sorted(StoredFile.objects.values_list("purpose", flat=True)) == ["photo", "signature"]
    consent = ConsentEntry.objects.get()
    assert (consent.evidence, str(consent.entry_id)) == ("signature", records[2]["id"])
    assert FieldRecord.objects.count() == 4


def test_a_consent_names_the_wording_that_the_phone_showed(phone: Phone, site: Site):
    owner = rows.make_owner(site.company)
    rows.own(owner, site)
    shown, newer = (
        Wording.objects.create(
            company=site.company, purpose="contact", language="en", version=version, text=f"v{version}", sha256="0" * 64
        )
        for version in (1, 2)
    )
    said = {
        "owner": str(owner.public_id), "purpose": "contact", "state": "given", "how": "staff_statement",
        "wording_version": shown.version, "wording_language": "en",
    }  # fmt: skip
    phone.answers(phone.record("consent", site, said))
    assert ConsentEntry.objects.get().wording == shown != newer


def test_a_uuid_is_one_record_across_kinds(phone: Phone, site: Site):
    scan = phone.scan(site)
    check = phone.record("check", site, {"title": "a", "finding": "done"}, id=scan["id"])
    phone.answers(scan)
    assert phone.answers(check)[0]["problem"]["code"] == "record_mismatch"
    other = phone.record("check", site, {"title": "a", "finding": "done"})
    phone.answers(other)
    assert phone.answers(phone.scan(site) | {"id": other["id"]})[0]["problem"]["code"] == "record_mismatch"


def test_a_bad_record_spoils_no_other_and_order_is_kept(phone: Phone, site: Site, monkeypatch, caplog):
    def broken(**_kwargs):
        raise RuntimeError("a fault of ours")

    monkeypatch.setattr("fleet.operations.field_kinds.take_check", broken)
    records = [
        phone.scan(site),
        phone.record("check", site, {"title": "a", "finding": "done"}),
        {"id": "no uuid"},
        phone.scan(site, raw=LABEL[:-1] + "2"),
    ]
    answers = phone.answers(*records)
    assert [answer["status"] for answer in answers] == [201, 500, 422, 201]
    assert "a fault of ours" not in json.dumps(answers)
    assert list(Scan.objects.order_by("pk").values_list("seq", flat=True)) == [records[0]["seq"], records[3]["seq"]]


@pytest.mark.parametrize(
    "spoiled",
    [
        {"kind": "wish"}, {"content": []}, {"member": None}, {"made_at": "yesterday"}, {"made_at": "0001-01-01T00:00Z"},
        {"seq": -1}, {"seq": True}, {"site": 5}, {"installation": "x"}, {"content": {"raw": 5}},
        {"content": {"raw": "a", "source": "camera", "more": [["a"]]}}, {"content": {"raw": "a"}},
    ],
)  # fmt: skip
def test_a_malformed_record_is_422_and_says_where(phone: Phone, site: Site, spoiled: dict[str, Any]):
    (answer,) = phone.answers(phone.scan(site) | spoiled)
    assert (answer["status"], answer["problem"]["code"]) == (422, "bad_record")
    assert answer["problem"]["errors"][0]["pointer"].startswith("/")
    assert not Scan.objects.exists()


def test_what_another_member_made_is_not_taken(phone: Phone, site: Site):
    colleague = rows.make_member(Role.OFFICE, site.company)
    (answer,) = Phone(colleague).answers(phone.scan(site))
    assert answer["problem"]["code"] == "another_member"
    assert not Scan.objects.exists()


def test_a_record_at_another_companys_site_is_404(phone: Phone):
    theirs = rows.make_site(rows.make_company())
    records = [
        phone.scan(theirs),
        phone.record("check", theirs, {"title": "a", "finding": "done"}),
        phone.record("file", theirs, {"name": "a", "content_type": "image/png", "data": PNG}),
        phone.record("consent", theirs, {"purpose": "contact", "state": "given", "how": "staff_statement"}),
        phone.record("sight", None, {"raw": f"http://127.0.0.1:8000/s/{theirs.code}", "source": "camera"}),
    ]
    assert [answer["status"] for answer in phone.answers(*records)] == [404] * 5
    assert not Scan.objects.exists()
    assert not FieldRecord.objects.exists()


def test_a_plate_before_the_camera_opens_the_site_and_a_typed_one_does_not(phone: Phone, site: Site):
    hidden = rows.make_site(site.company)
    plate = {"raw": f"http://127.0.0.1:8000/s/{hidden.code}", "format": "]Q1"}
    typed = phone.record("sight", None, plate | {"source": "typed"})
    assert phone.answers(typed, phone.scan(hidden))[0]["status"] == 404
    assert not SiteSighting.objects.exists()
    camera = phone.record("sight", None, plate | {"source": "camera"})
    assert [answer["status"] for answer in phone.answers(camera, phone.scan(hidden))] == [201, 201]


def test_at_most_twenty_records_and_not_none(phone: Phone, site: Site):
    for records in ([], [phone.scan(site)] * 21):
        assert phone.send(*records).status_code == 422
    assert not Scan.objects.exists()


def test_secrets_are_kept_nowhere(phone: Phone, site: Site):
    (answer,) = phone.answers(phone.scan(site, raw="WIFI:T:WPA;S:roof;P:hunter22;;"))
    assert answer["result"]["outcome"] == "refused"
    assert "hunter22" not in json.dumps(answer)
    assert "hunter22" not in str(list(Scan.objects.values()))
