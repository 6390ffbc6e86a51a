from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from uuid import uuid4

import pytest
from django.db import connection

from fleet.models import Placement
from fleet.operations.scans import record_scan
from tests.factories import make_capture, make_member, make_site


@pytest.mark.django_db(transaction=True)
def test_two_scans_of_one_device_at_two_sites_at_once_give_one_open_placement():
    office = make_member()
    captures = [replace(make_capture(make_site(office), "010952012345678821RACE"), id=uuid4()) for _ in range(6)]

    def scan(capture):
        try:
            return record_scan(actor=office, capture=capture).document["outcome"]
        finally:
            connection.close()

    with ThreadPoolExecutor(6) as pool:
        outcomes = sorted(pool.map(scan, captures))
    assert outcomes == ["elsewhere"] * 5 + ["linked"]
    assert Placement.objects.filter(until__isnull=True).count() == 1
