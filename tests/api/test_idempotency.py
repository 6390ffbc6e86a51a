"""A POST with an Idempotency-Key is done once."""

import threading
from datetime import timedelta

import pytest
from django.db import connection
from django.utils import timezone

from fleet.models import IdempotencyRecord, Site
from fleet.operations import idempotency
from fleet.operations.idempotency import Answer, KeyInUse, answer_once
from tests.api.conftest import problem
from tests.factories import make_member

SITE = {"street": "Rua do Sol", "town": "Tavira"}


@pytest.mark.django_db
def test_a_repeated_request_gets_the_first_answer(call):
    caller = call()
    first = caller.post("/api/v1/sites", SITE, Idempotency_Key="one")
    again = caller.post("/api/v1/sites", SITE, Idempotency_Key="one")
    assert (first.status_code, again.status_code) == (201, 201)
    assert first.json() == again.json()
    assert Site.objects.count() == 1
    caller.post("/api/v1/sites", SITE, Idempotency_Key="two")
    caller.post("/api/v1/sites", SITE)
    assert Site.objects.count() == 3


@pytest.mark.django_db
def test_a_key_with_other_content_is_422(call):
    caller = call()
    caller.post("/api/v1/sites", SITE, Idempotency_Key="one")
    again = caller.post("/api/v1/sites", SITE | {"town": "Faro"}, Idempotency_Key="one")
    problem(again, 422, "idempotency_key_reused")
    assert Site.objects.count() == 1


@pytest.mark.django_db
def test_keys_belong_to_their_member(call):
    for caller in (call(), call()):
        assert caller.post("/api/v1/sites", SITE, Idempotency_Key="one").status_code == 201
    assert Site.objects.count() == 2


@pytest.mark.django_db
def test_a_refused_request_may_be_corrected_under_its_key(call):
    caller = call()
    assert caller.post("/api/v1/sites", SITE | {"latitude": 1}, Idempotency_Key="one").status_code == 422
    assert not IdempotencyRecord.objects.exists()
    assert caller.post("/api/v1/sites", SITE, Idempotency_Key="one").status_code == 201


@pytest.mark.django_db
@pytest.mark.parametrize("key", ["", "x" * 256, "caf\u00e9", "a\tb"])
def test_a_senseless_key_is_400(call, key):
    problem(call().post("/api/v1/sites", SITE, Idempotency_Key=key), 400, "bad_idempotency_key")


@pytest.mark.django_db
def test_a_key_whose_first_request_still_runs_is_409(call):
    caller = call()
    caller.post("/api/v1/sites", SITE, Idempotency_Key="one")
    IdempotencyRecord.objects.update(status=None, body=None)
    problem(caller.post("/api/v1/sites", SITE, Idempotency_Key="one"), 409, "idempotency_key_in_use")


@pytest.mark.django_db
def test_a_claim_left_by_a_process_that_died_is_taken_over(call):
    caller = call()
    caller.post("/api/v1/sites", SITE, Idempotency_Key="one")
    long_ago = timezone.now() - idempotency.CLAIM_LASTS - timedelta(seconds=1)
    IdempotencyRecord.objects.update(status=None, body=None, created_at=long_ago)
    assert caller.post("/api/v1/sites", SITE, Idempotency_Key="one").status_code == 201


@pytest.mark.django_db
def test_who_lost_its_claim_writes_nothing():
    member = make_member()

    def slow():
        Site.objects.create(company=member.company, code="0123456X", street="x", town="y", time_zone="UTC")
        IdempotencyRecord.objects.update(created_at=timezone.now())  # somebody else took the claim over meanwhile
        return Answer(201, {})

    with pytest.raises(KeyInUse):
        answer_once(actor=member, key="one", fingerprint="f", act=slow)
    assert not Site.objects.exists()


@pytest.mark.django_db
def test_answers_are_forgotten_after_a_day(call):
    caller = call()
    caller.post("/api/v1/sites", SITE, Idempotency_Key="one")
    IdempotencyRecord.objects.update(created_at=timezone.now() - idempotency.KEPT - timedelta(minutes=1))
    caller.post("/api/v1/sites", SITE, Idempotency_Key="two")
    assert list(IdempotencyRecord.objects.values_list("key", flat=True)) == ["two"]


@pytest.mark.django_db(transaction=True)
def test_of_two_requests_at_once_one_does_it_and_the_other_waits_or_hears_409():
    member = make_member()
    started, done, outcomes = threading.Event(), [], []

    def act():
        started.set()
        done.append(1)
        return Answer(201, {"n": len(done)})

    def ask():
        try:
            outcomes.append(answer_once(actor=member, key="one", fingerprint="f", act=act).body)
        except KeyInUse:
            outcomes.append("in use")
        finally:
            connection.close()

    threads = [threading.Thread(target=ask) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(done) == 1
    assert {str(outcome) for outcome in outcomes} <= {"{'n': 1}", "in use"}
