"""Numbers and plans over the API."""

import pytest

from fleet.models import AuditEntry, Kind
from tests import rows
from tests.api.conftest import problem
from tests.factories import make_company, make_site

pytestmark = pytest.mark.django_db


def test_a_site_is_registered_with_its_numbers_and_its_plan(call):
    caller = call()
    body = {
        "street": "Rua do Sol", "town": "Tavira",
        "references": [{"kind": "order", "value": "A-1"}], "expected": {"inverter": 1, "optimiser": 0},
    }  # fmt: skip
    code = caller.post("/api/v1/sites", body).json()["code"]
    card = caller.get(f"/api/v1/sites/{code}").json()
    assert card["references"] == [{"kind": "order", "value": "A-1"}]
    assert card["plan"]["lines"] == [
        {"kind": "inverter", "expected": 1, "standing": 0},
        {"kind": "optimiser", "expected": 0, "standing": 0},
    ]


def test_a_change_replaces_the_numbers_and_leaves_kinds_that_it_does_not_name(call):
    caller = call()
    site = make_site(caller.member)
    path = f"/api/v1/sites/{site.code}"
    first = {"version": 1, "references": [{"kind": "order", "value": "A-1"}], "expected": {"inverter": 2, "meter": 0}}
    assert caller.patch(path, first).status_code == 200
    assert caller.patch(path, {"version": 2, "note": "Key at the bakery."}).status_code == 200
    assert caller.patch(path, {"version": 3, "references": [], "expected": {"meter": None}}).status_code == 200
    card = caller.get(path).json()
    assert (card["references"], card["note"]) == ([], "Key at the bakery.")
    assert card["plan"]["lines"] == [{"kind": "inverter", "expected": 2, "standing": 0}]


def test_a_site_is_not_registered_where_its_number_is_refused(call):
    caller = call()
    numbers = [{"kind": "order", "value": str(number)} for number in range(21)]
    body = {"street": "Rua do Sol", "town": "Tavira", "references": numbers}
    refused = caller.post("/api/v1/sites", body)
    problem(refused, 422, "bad_reference")
    assert caller.get("/api/v1/sites").json()["results"] == []
    assert not AuditEntry.objects.filter(act="register_site").exists()


def test_a_unit_is_planned_by_its_model_and_taken_off(call):
    caller = call()
    site = make_site(caller.member)
    path = f"/api/v1/sites/{site.code}/plan"
    model = rows.make_model(caller.member.company, "Cofre 9", Kind.BATTERY)
    made = caller.post(path, {"model": str(model.public_id), "serial": "SN-9"})
    assert made.status_code == 201
    unit = {"kind": "battery", "maker": "Solvento", "model": "Cofre 9", "serial": "SN-9", "position": "", "here": False}
    assert made.json()["units"] == [unit]
    left = caller.patch(path, {"take_off": "SN-9", "counts": {"battery": 0}}).json()
    assert left == {"lines": [{"kind": "battery", "expected": 0, "standing": 0}], "units": []}
    problem(caller.patch(path, {"take_off": "SN-9"}), 404, "unit_not_planned")


@pytest.mark.parametrize(
    ("body", "status", "code"),
    [
        ({"counts": {"optimiser": -1}}, 422, "invalid"),
        ({"counts": {"turbine": 1}}, 422, "invalid"),
        ({"count": {"optimiser": 1}}, 422, "invalid"),
    ],
)
def test_a_plan_that_cannot_be_is_refused(call, body, status, code):
    caller = call()
    site = make_site(caller.member)
    problem(caller.patch(f"/api/v1/sites/{site.code}/plan", body), status, code)


def test_another_companys_model_is_not_there(call):
    caller = call()
    site = make_site(caller.member)
    theirs = rows.make_model(make_company("Theirs"))
    problem(caller.post(f"/api/v1/sites/{site.code}/plan", {"model": str(theirs.public_id)}), 404, "not_found")
