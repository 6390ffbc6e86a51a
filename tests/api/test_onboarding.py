"""Consents and invitations over the API."""

from uuid import uuid4

import pytest

from fleet.models import Role
from onboarding.models import ConsentEntry, Invitation
from tests import rows
from tests.api.conftest import problem

pytestmark = pytest.mark.django_db


@pytest.fixture
def here(call):
    """A caller with a site and its owner."""
    member = rows.make_member(Role.OFFICE)
    site = rows.make_site(member.company)
    owner = rows.make_owner(member.company)
    rows.own(owner, site)
    return call(member), site, owner


def _said(owner, **more):
    return {
        "owner": str(owner.public_id), "purpose": "contact", "state": "given", "how": "staff_statement", **more,
    }  # fmt: skip


def test_a_consent_is_recorded_and_listed_and_permits_the_invitation(here):
    caller, site, owner = here
    path = f"/api/v1/sites/{site.code}"
    held = caller.post(f"{path}/invitations", {"owner": str(owner.public_id)})
    assert (held.status_code, held.json()["state"], held.json()["held_reason"]) == (201, "held", "no_consent")
    said = caller.post(f"{path}/consents", _said(owner))
    assert (said.status_code, said.json()["evidence"]) == (201, "staff_statement")
    listed = caller.get(f"{path}/consents").json()["results"]
    assert [entry["id"] for entry in listed] == [said.json()["id"]]
    invited = caller.get("/api/v1/invitations").json()["results"]
    assert [(one["id"], one["owner"]) for one in invited] == [(held.json()["id"], str(owner.public_id))]
    assert caller.get(f"/api/v1/invitations/{held.json()['id']}").json()["state"] == "queued"
    assert caller.get(f"{path}/invitations", state="held").json()["results"] == []


def test_a_second_open_invitation_is_409(here):
    caller, site, owner = here
    path = f"/api/v1/sites/{site.code}/invitations"
    caller.post(path, {"owner": str(owner.public_id)})
    problem(caller.post(path, {"owner": str(owner.public_id)}), 409, "already_invited")
    assert Invitation.objects.count() == 1


def test_a_repeated_consent_with_one_key_is_one_entry(here):
    caller, site, owner = here
    for _ in range(2):
        caller.post(f"/api/v1/sites/{site.code}/consents", _said(owner), Idempotency_Key="k")
    assert ConsentEntry.objects.count() == 1


def test_nobody_claims_the_owners_own_word_over_the_api(here):
    caller, site, owner = here
    path = f"/api/v1/sites/{site.code}/consents"
    for how in ("owner_online", "signature"):
        problem(caller.post(path, _said(owner, how=how)), 422, "invalid")
    assert not ConsentEntry.objects.exists()


def test_a_paper_needs_its_reference(here):
    caller, site, owner = here
    path = f"/api/v1/sites/{site.code}/consents"
    assert caller.post(path, _said(owner, how="paper_reference")).status_code == 422
    assert caller.post(path, _said(owner, how="paper_reference", reference="Folder 12")).status_code == 201


def test_an_owner_of_another_site_or_company_is_404(here):
    caller, site, _owner = here
    stranger = rows.make_owner(rows.make_company())
    for owner in (stranger, rows.make_owner(site.company)):
        problem(caller.post(f"/api/v1/sites/{site.code}/consents", _said(owner)), 404, "not_found")
        problem(
            caller.post(f"/api/v1/sites/{site.code}/invitations", {"owner": str(owner.public_id)}), 404, "not_found"
        )
    assert not ConsentEntry.objects.exists()


def test_another_companys_ledger_and_invitations_are_404(here, call):
    caller, site, owner = here
    invited = caller.post(f"/api/v1/sites/{site.code}/invitations", {"owner": str(owner.public_id)}).json()
    other = call(rows.make_member(Role.ADMINISTRATOR))
    for path in (f"/api/v1/sites/{site.code}/consents", f"/api/v1/sites/{site.code}/invitations"):
        problem(other.get(path), 404, "unknown_site")
        problem(other.post(path, {"owner": str(owner.public_id)}), 404, "unknown_site")
    problem(other.get(f"/api/v1/invitations/{invited['id']}"), 404, "not_found")
    problem(other.get(f"/api/v1/invitations/{uuid4()}"), 404, "not_found")
    assert other.get("/api/v1/invitations").json()["results"] == []


def test_no_link_or_token_is_given_out(here):
    caller, site, owner = here
    caller.post(f"/api/v1/sites/{site.code}/consents", _said(owner))
    answer = caller.post(f"/api/v1/sites/{site.code}/invitations", {"owner": str(owner.public_id)})
    assert {"token", "link", "token_hash"}.isdisjoint(answer.json())


def test_a_refusal_names_each_field_with_a_whole_sentence(here):
    caller, site, owner = here
    answer = caller.post(f"/api/v1/sites/{site.code}/consents", _said(owner, how="paper_reference"))
    told = problem(answer, 422, "bad_consent")["errors"]
    assert [(each["pointer"], each["detail"]) for each in told] == [
        ("/reference", "Give the reference that the paper can be found by.")
    ]
