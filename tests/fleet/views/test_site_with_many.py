"""A site's page with many devices: short, grouped, folded; on paper without acts and notes."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from fleet.models import Kind, Member, Placement, Role, Site
from fleet.operations.checks import record_check
from fleet.queries.site_page import site_record
from fleet.queries.site_years import years_of
from tests import rows
from tests.factories import make_site

pytestmark = pytest.mark.django_db


def _member() -> Member:
    return rows.make_member(Role.ADMINISTRATOR, rows.make_company())


def _client(member: Member) -> Client:
    client = Client()
    client.force_login(member.user)
    return client


def _stand(site: Site, kind: str, *positions: str, **fields: object) -> list[Placement]:
    began = timezone.now() - timedelta(days=2)
    return [
        rows.place(rows.make_device(site.company, kind=kind), site, since=began, position=position, **fields)
        for position in positions
    ]


def test_kinds_are_groups_with_their_number_and_each_device_one_row():
    member = _member()
    site = make_site(member)
    inverters = _stand(site, Kind.INVERTER, "cellar, left", "cellar, right")
    _stand(site, Kind.BATTERY, "hall")
    page = _client(member).get(f"/sites/{site.written_code}/").content.decode()
    assert '<span class="strong">Inverter</span> 2' in page
    assert '<span class="strong">Battery</span> 1' in page
    table = page.split('<table class="ledger dense standing">')[1].split("</table>")[0]
    assert table.count("<tr>") == 1 + 3
    assert [table.count(f">{each.device.serial}</a>") for each in inverters] == [1, 1]


@pytest.mark.parametrize(
    ("written", "string", "place"),
    [("A3", "A", "A3"), ("string b, 12", "B", "B12"), ("C-1", "C", "C1"), ("1.4", "1", "1.4"), ("on the roof", "", "")],
)
def test_the_place_of_an_optimiser_is_understood_as_people_write_it(written, string, place):
    member = _member()
    site = make_site(member)
    _stand(site, Kind.OPTIMISER, written, "Z1", "Z2", "Z3")
    (group,) = site_record(site).groups
    found = {cell.placement.position: (row.name, cell.place) for row in group.strings for cell in row.cells}
    assert found[written] == (string, place or written)


def test_thirty_optimisers_are_one_line_that_opens_to_their_strings():
    member = _member()
    site = make_site(member)
    standing = _stand(site, Kind.OPTIMISER, *(f"{string}{number}" for string in "BA" for number in range(15, 0, -1)))
    page = _client(member).get(f"/sites/{site.written_code}/").content.decode()
    table = page.split('<table class="ledger dense standing">')[1].split("</table>")[0]
    assert table.count("<tr>") == 1 + 1
    assert "In 2 strings" in table
    for placement in standing:
        assert f'href="/devices/{placement.device.public_id}/"' in table
    (group,) = site_record(site).groups
    assert [(row.name, [cell.place for cell in row.cells]) for row in group.strings] == [
        (string, [f"{string}{number}" for number in range(1, 16)]) for string in "AB"
    ]


def test_a_days_like_acts_are_one_line_and_single_ones_stand_alone():
    member = _member()
    site = make_site(member)
    _stand(site, Kind.OPTIMISER, *(f"A{number}" for number in range(1, 21)), placed_by=member)
    record_check(actor=member, site=site, title="Isolator labelled", finding="done")
    years = years_of(site)
    told = [(str(line.what), line.number) for line in years.lines if line.folded]
    assert told == [("Devices placed", 20)]
    assert sum(line.number for line in years.lines) == len(years.moments)
    page = _client(member).get(f"/sites/{site.written_code}/").content.decode()
    assert "Devices placed: 20 times" in " ".join(page.split())


def test_another_days_placements_are_another_line():
    member = _member()
    site = make_site(member)
    for days in (3, 9):
        began = timezone.now() - timedelta(days=days)
        for _each in range(4):
            rows.place(rows.make_device(site.company), site, since=began)
    assert [line.number for line in years_of(site).lines if line.folded] == [4, 4]


def test_the_page_asks_the_database_as_often_for_thirty_devices_as_for_three():
    member = _member()
    client, asked = _client(member), []
    for number in (3, 30):
        site = make_site(member)
        _stand(site, Kind.OPTIMISER, *(f"A{each}" for each in range(number)), placed_by=member)
        _stand(site, Kind.INVERTER, *(f"wall {each}" for each in range(number)), placed_by=member)
        client.get(f"/sites/{site.written_code}/")
        with CaptureQueriesContext(
            connection,
        ) as queries:
            client.get(f"/sites/{site.written_code}/")
        asked.append(len(queries))
    assert asked[0] == asked[1]


def test_a_postcode_and_a_code_are_whole_in_the_heading():
    member = _member()
    site = make_site(member, postcode="7005-382")
    heading = _client(member).get(f"/sites/{site.written_code}/").content.decode().split("<h1")[1].split("</h1>")[0]
    assert '<span class="whole">7005-382</span>' in heading
    assert f'<span class="code">{site.written_code}</span>' in heading
