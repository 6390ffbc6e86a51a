"""Several writers of one site at a time leave an index that agrees with the tables. Runs on both databases."""

from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection, transaction

from fleet.models import SearchMark, Site, SiteReference
from fleet.search import reindex
from fleet.search.check import differences
from tests.factories import make_company
from tests.fleet.search.samples import indexed, site_at

pytestmark = pytest.mark.django_db(transaction=True)


def test_writers_at_the_same_time_do_not_lose_each_others_words() -> None:
    company = make_company()
    site = site_at(company)
    indexed(site)
    writers = 4
    together = Barrier(writers)

    def write(number: int) -> None:
        together.wait(20)
        for step in range(5):
            with transaction.atomic():
                value = f"PED-{number}-{step}"
                SiteReference.objects.create(company=company, site_id=site.pk, kind="order", value=value)
                reindex([site.pk])
        connection.close()

    with ThreadPoolExecutor(writers) as pool:
        list(pool.map(write, range(writers)))
    assert SiteReference.objects.filter(site=site).count() == writers * 5
    assert differences() == []
    assert not SearchMark.objects.filter(site_id=site.pk).exists()


def test_a_change_that_is_rolled_back_leaves_the_index_as_it_was() -> None:
    company = make_company()
    site = site_at(company)
    indexed(site)
    with transaction.atomic():
        Site.objects.filter(pk=site.pk).update(street="Rua Desfeita")
        reindex([site.pk])
        transaction.set_rollback(True)
    assert differences() == []
