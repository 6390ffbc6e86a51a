"""Sites and devices over the API."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models import AuditEntry, Role, Site
from fleet.operations.placements import move_device
from fleet.operations.scans import record_scan
from tests.api.conftest import problem
from tests.factories import make_capture, make_company, make_member, make_site

pytestmark = pytest.mark.django_db
SITE = {"street": "Rua do Sol", "town": "Tavira", "latitude": 37.127, "longitude": -7.65, "installed_kwp": 6.25}


def test_a_site_is_registered_read_and_changed(call):
    caller = call()
    made = caller.post("/api/v1/sites", SITE)
    assert made.status_code == 201
    site = made.json()
    assert (site["time_zone"], site["stage"], site["version"]) == ("Europe/Lisbon", "planned", 1)
    assert site["installed_kwp"] == 6.25
    changed = caller.patch(f"/api/v1/sites/{site['code'].lower()}", {"version": 1, "storage_kwh": 7})
    assert changed.json()["storage_kwh"] == 7.0
    card = caller.get(f"/api/v1/sites/{site['code']}").json()
    assert (card["street"], card["storage_kwh"], card["version"]) == ("Rua do Sol", 7.0, 2)
    assert (card["devices"], card["owners"], card["references"]) == ([], [], [])
    acts = AuditEntry.objects.filter(member=caller.member, site__isnull=False).values_list("act", flat=True)
    assert sorted(acts) == ["edit_site", "register_site"]


def test_a_list_goes_on_by_cursor_without_gaps_or_doubles(call):
    caller = call()
    codes = [make_site(caller.member).written_code for _ in range(7)]
    seen, path, query = [], "/api/v1/sites", {"limit": 3}
    while path:
        page = caller.get(path, **query).json()
        seen += [site["code"] for site in page["results"]]
        path, query = page["next"], {}
        if len(seen) == 3:
            make_site(caller.member)  # a new row at the front moves nothing
    assert seen == codes[::-1]


def test_a_ranked_list_goes_on_by_cursor_and_ends_at_the_cap(call, monkeypatch):
    caller = call()
    for _ in range(5):
        make_site(caller.member, street="Rua Igual")
    monkeypatch.setattr("api.paging.FARTHEST_OFFSET", 2)
    first = caller.get("/api/v1/sites", q="igual", limit=2).json()
    second = caller.get(first["next"]).json()
    assert len(first["results"]) == len(second["results"]) == 2
    assert not {site["code"] for site in first["results"]} & {site["code"] for site in second["results"]}
    assert second["next"] is None


@pytest.mark.parametrize("cursor", ["x", "!!!!", "a1234", "bzEyMw", "a" * 100, "azk5OTk"])
def test_a_made_up_cursor_is_refused(call, cursor):
    problem(call().get("/api/v1/sites", cursor=cursor), 422, "bad_cursor")


def test_a_cursor_of_another_companys_site_is_refused(call):
    other = call()
    for _ in range(2):
        make_site(other.member)
    theirs = other.get("/api/v1/sites", limit=1).json()["next"]
    problem(call().get(theirs), 422, "bad_cursor")


def test_unknown_and_senseless_query_keys_are_refused(call):
    caller = call()
    for query in ({"page": "2"}, {"limit": "0"}, {"limit": "9999"}, {"stage": "gone"}, {"q": "a\x00b"}):
        assert caller.get("/api/v1/sites", **query).status_code == 422, query


def test_another_companys_site_is_404_in_every_method(call):
    theirs = make_site(make_member(make_company("Outra")))
    caller = call()
    path = f"/api/v1/sites/{theirs.written_code}"
    problem(caller.get(path), 404, "unknown_site")
    problem(caller.patch(path, {"version": 1, "street": "Mine"}), 404, "unknown_site")
    problem(caller.get("/api/v1/devices", site=theirs.code), 404, "unknown_site")
    theirs.refresh_from_db()
    assert (theirs.street, theirs.version) == ("Rua das Amendoeiras", 1)


def test_a_field_member_sees_only_assigned_sites(call):
    office = make_member()
    hidden = make_site(office)
    caller = call(make_member(office.company, Role.FIELD))
    mine = caller.post("/api/v1/sites", SITE).json()
    assert [site["code"] for site in caller.get("/api/v1/sites").json()["results"]] == [mine["code"]]
    problem(caller.get(f"/api/v1/sites/{hidden.code}"), 404, "unknown_site")


def test_bad_input_writes_nothing(call):
    caller = call()
    for change in ({"street": ""}, {"country": "Portugal"}, {"latitude": 91, "longitude": 0}, {"use": "ship"}):
        assert caller.post("/api/v1/sites", SITE | change).status_code == 422
    assert not Site.objects.exists()


def test_devices_are_listed_read_and_moved(call):
    caller = call()
    here, there = make_site(caller.member), make_site(caller.member)
    scan = record_scan(actor=caller.member, capture=make_capture(here)).document
    listed = caller.get("/api/v1/devices", site=here.code).json()["results"]
    assert [device["id"] for device in listed] == [scan["device"]["id"]]
    assert caller.get("/api/v1/devices", serial=listed[0]["serial"]).json()["results"] == listed
    path = f"/api/v1/devices/{listed[0]['id']}"
    moved = caller.post(f"{path}/moves", {"to_site": there.code})
    assert (moved.status_code, moved.json()["site"]) == (201, there.written_code)
    assert [place["site"] for place in caller.get(path).json()["placements"]] == [
        there.written_code,
        here.written_code,
    ]
    assert caller.get(f"/api/v1/sites/{there.code}").json()["devices"][0]["id"] == listed[0]["id"]


def test_another_companys_device_is_404_in_every_method(call):
    other = make_member(make_company("Outra"))
    scan = record_scan(actor=other, capture=make_capture(make_site(other))).document
    caller = call()
    path, mine = f"/api/v1/devices/{scan['device']['id']}", make_site(caller.member)
    problem(caller.get(path), 404, "not_found")
    problem(caller.post(f"{path}/moves", {"to_site": mine.code}), 404, "not_found")


def test_a_device_is_not_moved_to_another_companys_site(call):
    caller = call()
    scan = record_scan(actor=caller.member, capture=make_capture(make_site(caller.member))).document
    theirs = make_site(make_member(make_company("Outra")))
    answer = caller.post(f"/api/v1/devices/{scan['device']['id']}/moves", {"to_site": theirs.code})
    problem(answer, 404, "unknown_site")


def test_a_placement_at_a_hidden_site_is_not_shown(call):
    office = make_member()
    field = make_member(office.company, Role.FIELD)
    caller = call(field)
    hidden, mine = make_site(office), make_site(field)
    scan = record_scan(actor=office, capture=make_capture(hidden))
    assert scan.scan.device is not None
    move_device(actor=office, device=scan.scan.device, to_site=mine)
    card = caller.get(f"/api/v1/devices/{scan.document['device']['id']}").json()
    assert [place["site"] for place in card["placements"]] == [mine.written_code]


@pytest.mark.parametrize("path", ["/api/v1/sites", "/api/v1/devices"])
def test_lists_take_as_many_queries_for_30_rows_as_for_3(call, path):
    caller = call()
    caller.get("/api/v1/me")  # a token's first use of the day is one write more
    counts = []
    for wanted in (3, 30):
        while Site.objects.count() < wanted:
            record_scan(actor=caller.member, capture=make_capture(make_site(caller.member)))
        with CaptureQueriesContext(connection) as queries:
            assert len(caller.get(path).json()["results"]) == wanted
        counts.append(len(queries))
    assert counts[0] == counts[1]
