"""Swapping a device over the API."""

from typing import Any
from uuid import uuid4

import pytest

from fleet.models import Placement
from fleet.operations.scans import record_scan
from tests.api.conftest import problem
from tests.factories import make_capture, make_site

pytestmark = pytest.mark.django_db


def _label(raw: str, **more: Any) -> dict[str, Any]:
    return {"id": str(uuid4()), "raw": raw, "source": "typed", "scanned_at": "2026-07-01T12:00:00Z", **more}


def _standing(caller: Any) -> Placement:
    record_scan(actor=caller.member, capture=make_capture(make_site(caller.member)))
    return Placement.objects.get()


def test_a_typed_serial_is_asked_about_and_swapped_once_confirmed(call):
    caller = call()
    old = _standing(caller)
    address = f"/api/v1/devices/{old.device.public_id}/swaps"
    asked = problem(caller.post(address, _label("NEW-7")), 409, "new_device_not_linked")
    assert asked["facts"]["answer"]["outcome"] == "confirm"
    assert Placement.objects.get(until=None) == old
    confirmed = _label("NEW-7", confirmed=True)
    first, again = caller.post(address, confirmed), caller.post(address, confirmed)
    assert (first.status_code, again.status_code) == (201, 200), again.content
    assert first.json() == again.json()
    assert first.json()["device"]["serial"] == "NEW-7"
    new = Placement.objects.get(until=None)
    assert (new.device.serial, new.replaces, new.site) == ("NEW-7", old, old.site)


def test_a_device_that_stands_nowhere_is_not_swapped(call):
    caller = call()
    old = _standing(caller)
    address = f"/api/v1/devices/{old.device.public_id}/swaps"
    caller.post(address, _label("NEW-8", confirmed=True))
    problem(caller.post(address, _label("NEW-9", confirmed=True)), 409, "not_standing")
