"""The catalogue over the API."""

import pytest

from fleet.models import Kind, Role
from tests import rows
from tests.api.conftest import problem
from tests.factories import make_company, make_member, make_site

pytestmark = pytest.mark.django_db
MAKERS, MODELS = "/api/v1/catalogue/makers", "/api/v1/catalogue/models"
GTIN, OTHER_GTIN = "09520123456788", "09520001000010"


@pytest.fixture
def leonor(call):
    return call(make_member(role=Role.ADMINISTRATOR))


def test_makers_and_models_are_added_changed_and_listed(leonor):
    maker = leonor.post(MAKERS, {"name": "Medalto", "spellings": ["Medalto Lda"]}).json()
    model = leonor.post(
        MODELS,
        {
            "maker": maker["id"],
            "name": "Fiel 3",
            "kind": "meter",
            "gtins": [GTIN, OTHER_GTIN],
            "ratings": {"ac": "1 A"},
        },
    ).json()
    changed = leonor.patch(f"{MODELS}/{model['id']}", {"warranty_months": 36, "label_hint": "On its front."}).json()
    assert changed["gtins"] == [GTIN, OTHER_GTIN]
    assert (changed["ratings"], changed["warranty_months"]) == ({"ac": "1 A"}, 36)
    assert changed["label_hint"] == "On its front."
    assert leonor.patch(f"{MAKERS}/{maker['id']}", {"name": "Medalto SA"}).json()["spellings"] == ["Medalto Lda"]
    (listed,) = leonor.get(MODELS).json()["results"]
    assert (listed["maker"]["name"], listed["id"]) == ("Medalto SA", model["id"])


def test_two_makers_become_one(leonor):
    first, second = (leonor.post(MAKERS, {"name": name}).json()["id"] for name in ("Medalto", "Medaltto"))
    kept = leonor.post(f"{MAKERS}/{second}/merge", {"into": first}).json()
    assert (kept["id"], kept["spellings"]) == (first, ["Medaltto"])
    problem(leonor.get(f"{MAKERS}/{second}"), 404, "not_found")
    problem(leonor.post(f"{MAKERS}/{first}/merge", {"into": first}), 422, "bad_maker")


def test_what_is_taken_is_a_conflict_with_a_name(leonor):
    maker = leonor.post(MAKERS, {"name": "Medalto"}).json()["id"]
    problem(leonor.post(MAKERS, {"name": "MEDALTO"}), 409, "maker_known")
    leonor.post(MODELS, {"maker": maker, "name": "Fiel 3", "kind": "meter", "gtins": [GTIN]})
    problem(leonor.post(MODELS, {"maker": maker, "name": "fiel 3", "kind": "meter"}), 409, "model_known")
    problem(leonor.post(MODELS, {"maker": maker, "name": "F4", "kind": "meter", "gtins": [GTIN]}), 409, "gtin_known")


def test_another_companys_maker_is_not_there(leonor, call):
    theirs = call(make_member(make_company("Theirs"), Role.ADMINISTRATOR)).post(MAKERS, {"name": "Medalto"}).json()
    problem(leonor.get(f"{MAKERS}/{theirs['id']}"), 404, "not_found")
    problem(leonor.post(MODELS, {"maker": theirs["id"], "name": "F", "kind": "meter"}), 404, "not_found")


def test_a_token_without_the_scope_reads_only(call):
    caller = call(make_member(role=Role.ADMINISTRATOR), ["sites:read", "sites:write"])
    assert caller.get(MAKERS).status_code == 200
    problem(caller.post(MAKERS, {"name": "Medalto"}), 403, "scope_missing")


def test_a_devices_model_is_set_corrected_and_taken_back(call):
    caller = call()
    site = make_site(caller.member)
    model = rows.make_model(caller.member.company, "Cofre 7", Kind.BATTERY)
    device = rows.make_device(caller.member.company, kind=Kind.OTHER)
    rows.place(device, site, position="Cellar")
    path = f"/api/v1/devices/{device.public_id}"
    said = caller.patch(path, {"model": str(model.public_id)}).json()
    assert (said["kind"], said["model"], said["model_id"]) == ("battery", "Cofre 7", str(model.public_id))
    assert caller.get(f"/api/v1/sites/{site.code}").json()["devices"][0]["position"] == "Cellar"
    assert caller.patch(path, {"kind": "meter"}).json()["model_id"] is None
    problem(caller.patch(path, {"model": str(rows.make_model(make_company("Theirs")).public_id)}), 404, "not_found")
