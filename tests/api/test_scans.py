"""Linking by scan over the API, one by one and in batches."""

from typing import Any
from uuid import uuid4

import pytest

from fleet.models import Device, Placement, Scan, Site
from tests.api.conftest import problem
from tests.factories import make_company, make_member, make_site

pytestmark = pytest.mark.django_db
LABEL = "010952012345678821SN000001"


def _scan(site: Site, raw: str = LABEL, **more: Any) -> dict[str, Any]:
    return {
        "id": str(uuid4()), "site": site.code, "raw": raw, "format": "]d2", "source": "camera",
        "scanned_at": "2026-06-01T12:00:00Z", **more,
    }  # fmt: skip


def test_a_new_scan_is_201_and_repeated_200_with_the_same_words(call):
    caller = call()
    scan = _scan(make_site(caller.member))
    first, again = caller.post("/api/v1/scans", scan), caller.post("/api/v1/scans", scan)
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json() == again.json()
    assert first.json()["outcome"] == "linked"
    assert (Scan.objects.count(), Device.objects.count(), Placement.objects.count()) == (1, 1, 1)


def test_the_same_id_with_other_content_is_409(call):
    caller = call()
    scan = _scan(make_site(caller.member))
    caller.post("/api/v1/scans", scan)
    problem(caller.post("/api/v1/scans", scan | {"raw": "010952012345678821SN000002"}), 409, "record_mismatch")
    assert Device.objects.count() == 1


def test_a_batch_is_answered_one_by_one_and_a_bad_one_spoils_no_other(call):
    caller = call()
    site, theirs = make_site(caller.member), make_site(make_member(make_company("Outra")))
    good, wifi = _scan(site), _scan(site, raw="WIFI:T:WPA;S:inverter;P:hunter22;;", format="]Q1")
    batch = [good, _scan(theirs), {"id": "x"}, wifi, _scan(site, raw="010952012345678821SN000009")]
    answer = caller.post("/api/v1/scans", {"scans": batch})
    assert answer.status_code == 200
    results = answer.json()["results"]
    assert [result["status"] for result in results] == [201, 404, 422, 201, 201]
    assert results[1]["problem"]["code"] == "unknown_site"
    assert {fault["pointer"] for fault in results[2]["problem"]["errors"]} == {"/id", "/site", "/raw", "/scanned_at"}
    assert results[3]["scan"]["outcome"] == "refused"
    assert [result["id"] for result in results] == [item["id"] for item in batch]
    assert "hunter22" not in str(answer.content)
    assert Device.objects.count() == 2


def test_a_batch_takes_a_hundred_and_not_one_more(call):
    caller = call()
    site = make_site(caller.member)
    scans = [_scan(site, raw=f"010952012345678821SN{number:06d}") for number in range(101)]
    problem(caller.post("/api/v1/scans", {"scans": scans}), 422, "invalid")
    assert not Scan.objects.exists()
    assert caller.post("/api/v1/scans", {"scans": scans[:100]}).status_code == 200
    assert Device.objects.count() == 100
    problem(caller.post("/api/v1/scans", {"scans": []}), 422, "invalid")


@pytest.mark.parametrize("raw", ["", " ", "a\x00b", "\ud800", "x" * 4000, "é" * 10])
def test_senseless_payloads_are_refused_by_outcome_not_by_a_fault(call, raw):
    caller = call()
    answer = caller.post("/api/v1/scans", _scan(make_site(caller.member), raw=raw, format=""))
    assert answer.status_code == 201
    assert answer.json()["outcome"] in {"refused", "confirm"}
    assert not Device.objects.exists()


def test_a_scan_at_another_companys_site_is_404(call):
    caller = call()
    theirs = make_site(make_member(make_company("Outra")))
    problem(caller.post("/api/v1/scans", _scan(theirs)), 404, "unknown_site")
    assert not Scan.objects.exists()


def test_what_another_company_holds_never_changes_the_answer(call):
    first, second = call(), call()
    answers = [caller.post("/api/v1/scans", _scan(make_site(caller.member))).json() for caller in (first, second)]
    assert [answer["outcome"] for answer in answers] == ["linked", "linked"]


def test_a_plate_leads_to_its_site(call, settings):
    caller = call()
    site = make_site(caller.member)
    plate = {"raw": f"{settings.BASE_URL}/s/{site.code}", "format": "]Q1", "source": "camera"}
    assert caller.post("/api/v1/sightings", plate).json()["site"]["code"] == site.written_code
    problem(call().post("/api/v1/sightings", plate), 404, "nothing_sighted")
