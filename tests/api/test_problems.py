"""Every error is a problem document with a stable code (RFC 9457)."""

import json
from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone

from fleet.models import ApiToken, Role
from fleet.operations.tokens import revoke_token
from tests.api.conftest import problem
from tests.factories import make_company, make_member, make_user

pytestmark = pytest.mark.django_db
SITE = {"street": "Rua do Sol", "town": "Tavira"}


def test_not_signed_in_is_401_with_a_challenge(client):
    answer = client.get("/api/v1/me")
    problem(answer, 401, "not_authenticated")
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")


@pytest.mark.parametrize("method", ["get", "post", "put", "patch", "delete", "options", "head"])
def test_an_unknown_address_is_404_in_every_method(client, method):
    answer = getattr(client, method)("/api/v1/nothing/here")
    assert answer.status_code == 404
    assert answer.headers["Content-Type"] == "application/problem+json"


def test_a_wrong_method_is_405_and_says_which_are_allowed(call):
    answer = call().client.delete("/api/v1/sites")
    problem(answer, 405, "method_not_allowed")
    assert answer.headers["Allow"] == "GET, POST, HEAD"


def test_a_wrong_media_type_is_415(call):
    problem(call().client.post("/api/v1/sites", "street=x", "text/plain"), 415, "unsupported_media_type")


@pytest.mark.parametrize("body", ["{", '{"a": NaN}', "[1", "\x00"])
def test_malformed_json_is_400(call, body):
    problem(call().client.post("/api/v1/sites", body, "application/json"), 400, "parse_error")


@pytest.mark.parametrize("body", [[], "text", 5, None])
def test_json_that_is_no_object_is_422(call, body):
    problem(call().client.post("/api/v1/sites", json.dumps(body), "application/json"), 422, "invalid")


def test_faults_are_pointed_at_with_json_pointers(call):
    document = problem(call().post("/api/v1/sites", {"town": "Tavira", "a/b~c": 1, "phases": 4}), 422, "invalid")
    assert {(fault["pointer"], fault["code"]) for fault in document["errors"]} == {
        ("/street", "required"),
        ("/a~1b~0c", "unknown_field"),
        ("/phases", "max_value"),
    }


def test_an_operations_refusal_keeps_its_code_and_fields(call):
    caller = call()
    site = caller.post("/api/v1/sites", SITE).json()
    caller.patch(f"/api/v1/sites/{site['code']}", {"version": 1, "street": "Rua da Lua"})
    problem(caller.patch(f"/api/v1/sites/{site['code']}", {"version": 1, "street": "Rua"}), 409, "stale_site")
    bad = caller.post("/api/v1/sites", SITE | {"latitude": 37.1})
    assert problem(bad, 422, "bad_site_facts")["errors"]


def test_a_long_body_is_413_before_it_is_read(call, settings):
    answer = call().client.post("/api/v1/sites", "x" * (settings.API_BODY_MAX_BYTES + 1), "application/json")
    problem(answer, 413, "too_large")


def test_too_many_requests_are_429_with_a_wait(call, settings):
    settings.API_REQUESTS_PER_MINUTE = 2
    caller = call()
    assert [caller.get("/api/v1/me").status_code for _ in range(2)] == [200, 200]
    answer = caller.get("/api/v1/me")
    problem(answer, 429, "throttled")
    assert 0 < int(answer.headers["Retry-After"]) <= 61


def test_a_fault_of_ours_is_a_problem_without_its_details(call, monkeypatch, caplog):
    def broken(**_kwargs):
        raise RuntimeError("secret detail")

    monkeypatch.setattr("api.endpoints.sites.register_whole_site", broken)
    answer = call().post("/api/v1/sites", SITE)
    document = problem(answer, 500, "failed")
    assert "secret" not in json.dumps(document)
    assert "secret detail" in caplog.text


def test_a_revoked_an_expired_and_a_made_up_token_are_401(call):
    caller = call()
    revoke_token(actor=caller.member, token=caller.token)
    problem(caller.get("/api/v1/me"), 401, "token_not_valid")
    late = call()
    ApiToken.objects.filter(pk=late.token.pk).update(expires_at=timezone.now() - timedelta(seconds=1))
    problem(late.get("/api/v1/me"), 401, "token_not_valid")
    problem(Client(headers={"Authorization": "Bearer rt_made_up"}).get("/api/v1/me"), 401, "token_not_valid")


def test_a_deactivated_member_token_is_401(call):
    caller = call()
    type(caller.member).objects.filter(pk=caller.member.pk).update(active=False, deactivated_at=timezone.now())
    problem(caller.get("/api/v1/me"), 401, "token_not_valid")


def test_only_a_hash_of_the_token_is_kept(call):
    caller = call()
    kept = ApiToken.objects.values().get(pk=caller.token.pk)
    assert caller.secret not in str(kept)


def test_a_token_without_the_scope_is_403_and_changes_nothing(call):
    caller = call(scopes=["sites:read"])
    document = problem(caller.post("/api/v1/sites", SITE), 403, "scope_missing")
    assert "sites:write" in document["detail"]
    assert caller.get("/api/v1/sites").json()["results"] == []


def test_a_session_needs_the_csrf_token_to_change_something():
    member = make_member()
    client = Client(enforce_csrf_checks=True)
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get("/api/v1/me").json()["member"] == str(member.public_id)
    problem(client.post("/api/v1/sites", json.dumps(SITE), "application/json"), 403, "csrf_failed")
    assert client.get("/api/v1/sites").json()["results"] == []


def test_a_user_without_a_membership_is_403(client):
    client.force_login(make_user(), backend="django.contrib.auth.backends.ModelBackend")
    problem(client.get("/api/v1/sites"), 403, "not_a_member")


def test_a_token_acts_for_its_own_membership_whatever_the_session_says(call):
    user = make_user()
    here, there = make_member(make_company("Aqui"), user=user), make_member(make_company("Ali"), Role.FIELD, user)
    caller = call(there)
    caller.client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    assert caller.get("/api/v1/me").json()["member"] == str(there.public_id)
    assert here.public_id != there.public_id


def test_nothing_answered_may_be_cached(call):
    assert call().get("/api/v1/me").headers["Cache-Control"] == "no-store"
