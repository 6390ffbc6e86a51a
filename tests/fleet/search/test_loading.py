"""Indexing a fleet at once makes what indexing its sites one by one makes. Runs on both databases."""

import pytest
from django.core.management import call_command
from django.db import connection

from fleet.guards import missing_guards
from fleet.models import SearchMark, Site
from fleet.search.check import differences
from fleet.search.loading import index_new_sites, without_marks
from tests.factories import make_company, make_member
from tests.fleet.search.samples import found, indexed, owned, placed, site_at

pytestmark = pytest.mark.django_db(transaction=True)


def test_new_sites_join_those_that_are_indexed() -> None:
    company = make_company()
    first = site_at(company)
    indexed(first)
    with without_marks():
        sites = [site_at(company, house_number=str(number)) for number in range(4)]
        for number, site in enumerate(sites):
            owned(site, f"Lurdes Zimbreira {number}")
            placed(site, f"BLK-{number}001")
    assert index_new_sites(first.pk) == 4
    assert differences() == []
    assert not SearchMark.objects.exists()
    assert missing_guards(connection) == []
    member = make_member(company)
    assert found(member, "blk2001") == [sites[2].pk]
    assert len(found(member, "zimbreria")) == 4


def test_a_loaded_fleet_is_found_and_consistent(capsys: pytest.CaptureFixture[str]) -> None:
    call_command("load_fleet", "--sites", "30", "--companies", "2")
    call_command("check_search")
    assert "agree" in capsys.readouterr().out
    site = Site.objects.order_by("?")[0]
    assert site.pk in found(make_member(site.company), site.written_code)
