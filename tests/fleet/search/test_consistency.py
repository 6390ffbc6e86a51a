"""The index agrees with the tables after any change, by any path. Runs on both databases."""

from random import Random

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models import Company, Device, DeviceModel, Maker, SearchDocument, SearchMark, Site, SiteReference, Tag
from fleet.search import reindex
from fleet.search.backend import backend
from fleet.search.check import differences
from fleet.search.rebuild import rebuild
from fleet.search.sweep import sweep_marks
from fleet.search.tables import TOKENS
from onboarding.models import Owner, Ownership
from tests.factories import make_company, make_member
from tests.fleet.search.samples import (
    SINCE,
    counts_steps,
    found,
    indexed,
    model_of,
    owned,
    placed,
    site_at,
    steps_of,
    tagged,
)

pytestmark = pytest.mark.django_db


def tokens() -> set[tuple[int, str, int]]:
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT company_id, token, site_id FROM {TOKENS}")
        return set(cursor.fetchall())


def documents() -> dict[int, tuple[object, ...]]:
    return {
        row[0]: row[1:]
        for row in SearchDocument.objects.values_list("pk", "company_id", "tokens", "past_tokens", "shown")
    }


@pytest.fixture
def company() -> Company:
    return make_company()


@pytest.fixture
def site(company: Company) -> Site:
    site = site_at(company)
    owned(site, "Rita Carvalhal", email="rita@example.net")
    placed(site, "HX-77120", model=model_of(company, "Helionave", "HX-5000"))
    tagged(site, "Norte")
    SiteReference.objects.create(company=company, site=site, kind="order", value="PED-1")
    indexed(site)
    return site


def test_indexing_clears_the_marks(site: Site) -> None:
    assert not SearchMark.objects.exists()


@pytest.mark.parametrize("sites", [1, 12])
def test_indexing_takes_the_same_few_statements_for_any_number_of_sites(company: Company, sites: int) -> None:
    ids = [site_at(company).pk for _ in range(sites)]
    for number, site_id in enumerate(ids):
        owned(Site.objects.get(pk=site_id), f"Amélia Serrana {number}")
    reindex(ids)
    Owner.objects.update(name="Outra Serrana")
    with CaptureQueriesContext(connection) as asked:
        reindex(ids)
    in_one = connection.vendor == "postgresql"  # what is taken, and what is written, are one round trip each there
    words = ["variants"] if in_one else ["vocabulary", "variants", "new variants", "trigrams"]
    others = ["take", "read", "write"] if in_one else ["marks", "sites", "read", "remove", "add", "document", "summary"]
    assert len(asked) == len(others) + len(words), [each["sql"][:80] for each in asked]


@counts_steps
def test_a_sites_tokens_are_removed_without_going_through_the_companys(company: Company) -> None:
    indexed(*(site_at(company) for _ in range(80)))
    last = Site.objects.order_by("-pk")[0]
    gone = [(company.pk, token, last.pk) for token in ("wrua", "walfazema", "wtavira")]
    assert set(gone) <= tokens()
    assert 0 < steps_of(backend().remove_tokens(gone)) < 200
    assert not set(gone) & tokens()


_AT_SITE = "SELECT device_id FROM fleet_placement WHERE site_id = {site}"
_ENDED = "until = '2026-01-01 00:00:00+00:00'"
CHANGES = {
    "site": "UPDATE fleet_site SET street = 'Rua Nova' WHERE id = {site}",
    "device": f"UPDATE fleet_device SET serial = 'HX-99999' WHERE id IN ({_AT_SITE})",
    "placement": "UPDATE fleet_placement SET " + _ENDED + ", ended = 'moved' WHERE site_id = {site}",
    "placement gone": "DELETE FROM fleet_placement WHERE site_id = {site}",
    "model": "UPDATE fleet_devicemodel SET name = 'HX-6000'",
    "maker": "UPDATE fleet_maker SET name = 'Solnave'",
    "tag": "UPDATE fleet_tag SET name = 'Sul'",
    "label": "DELETE FROM fleet_site_tags WHERE site_id = {site}",
    "reference": "UPDATE fleet_sitereference SET value = 'PED-2' WHERE site_id = {site}",
    "reference gone": "DELETE FROM fleet_sitereference WHERE site_id = {site}",
    "alias": "INSERT INTO fleet_sitecodealias (company_id, code, site_id, since) "
    "SELECT company_id, 'ABCDEFGH', id, created_at FROM fleet_site WHERE id = {site}",
    "owner": "UPDATE onboarding_owner SET name = 'Rita Silveira'",
    "ownership": "UPDATE onboarding_ownership SET " + _ENDED + " WHERE site_id = {site}",
    "ownership gone": "DELETE FROM onboarding_ownership WHERE site_id = {site}",
}  # fmt: skip


@pytest.mark.parametrize("path", CHANGES)
def test_a_change_by_raw_sql_marks_the_site_and_the_sweep_mends_it(site: Site, path: str) -> None:
    other = site_at(site.company, "Rua Alheia")
    indexed(other)
    with connection.cursor() as cursor:
        cursor.execute(CHANGES[path].format(site=site.pk))
    assert set(SearchMark.objects.values_list("site_id", flat=True)) == {site.pk}
    assert {difference.site_id for difference in differences()} == {site.pk}
    assert sweep_marks() == 1
    assert not SearchMark.objects.exists()
    assert differences() == []


def test_an_update_of_nothing_that_is_searched_marks_nothing(site: Site) -> None:
    Site.objects.filter(pk=site.pk).update(note="Ladder behind the house")
    assert not SearchMark.objects.exists()


def test_a_site_that_is_gone_leaves_the_index(site: Site) -> None:
    with connection.cursor() as cursor:
        for table in (
            "fleet_placement",
            "fleet_site_tags",
            "fleet_sitereference",
            "onboarding_ownership",
            "fleet_sitesummary",
        ):
            cursor.execute(f"DELETE FROM {table} WHERE site_id = {site.pk}")
        cursor.execute(f"DELETE FROM fleet_site WHERE id = {site.pk}")
    sweep_marks()
    assert not tokens()
    assert not SearchDocument.objects.exists()


def test_tampering_with_the_index_is_found_and_mended(site: Site) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {TOKENS} WHERE token = 'wtavira'")
        cursor.execute(
            f"INSERT INTO {TOKENS} (company_id, token, site_id) VALUES ({site.company_id}, 'wghost', {site.pk})"
        )
        cursor.execute(
            f"INSERT INTO {TOKENS} (company_id, token, site_id) VALUES ({site.company_id}, 'wghost', 999999)"
        )
    assert {difference.site_id for difference in differences()} == {site.pk, 999999}
    rebuild()
    assert differences() == []


def test_random_changes_leave_what_a_rebuild_would_make(company: Company) -> None:
    random = Random(20260601)
    member = make_member(company)
    sites = [site_at(company, house_number=str(n)) for n in range(8)]
    models = [model_of(company, maker, f"HX-{n}") for n, maker in enumerate(("Helionave", "Vulcaris"))]
    for number, site in enumerate(sites):
        owned(site, f"Dona {number} Oliveira")
        placed(site, f"RND-{number:04d}", model=random.choice(models))
    indexed(*sites)
    for step in range(120):
        touched = _change_something(random, step, sites, models)
        if random.random() < 0.8:
            reindex(touched)
    sweep_marks()
    kept_tokens, kept_documents = tokens(), documents()
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {TOKENS}")
    SearchDocument.objects.all().delete()
    rebuild()
    assert (tokens(), documents()) == (kept_tokens, kept_documents)
    assert differences() == []
    assert found(member, sites[0].code) == [sites[0].pk]


def _change_something(random: Random, step: int, sites: list[Site], models: list[DeviceModel]) -> list[int]:
    site = random.choice(sites)
    company = site.company
    streets = ["Rua do Sol", "Largo da Sé", "Travessa Nova", "Rua Ångström"]
    match random.randrange(9):
        case 0:
            Site.objects.filter(pk=site.pk).update(
                street=random.choice(streets), house_number=str(random.randrange(99))
            )
        case 1:
            placed(site, f"NEW-{step:05d}", model=random.choice(models))
        case 2:
            site.placements.filter(until__isnull=True).update(until=SINCE, ended="moved")
        case 3:
            tagged(site, random.choice(["Norte", "Sul", "Urgente"]))
        case 4:
            site.tags.clear()
        case 5:
            owned(site, random.choice(["Zé Pinheiro", "Łucja Ødegård", "Weiß & Sohn"]))
        case 6:
            Ownership.objects.filter(site=site).update(until=SINCE)
        case 7:
            owners = Owner.objects.filter(ownerships__site=site)
            Owner.objects.filter(pk__in=list(owners.values_list("pk", flat=True))).update(phone=f"+351 2{step:08d}")
        case 8:
            SiteReference.objects.get_or_create(company=company, site=site, kind="order", value=f"PED-{step}")
    return [site.pk]


def test_a_rebuild_that_was_cut_off_goes_on_where_it_stopped(company: Company) -> None:
    sites = [site_at(company, house_number=str(n)) for n in range(7)]
    first = rebuild(chunk=3, most_chunks=1)
    assert (first.finished_at, first.sites_done) == (None, 3)
    assert SearchDocument.objects.count() == 3
    again = rebuild(chunk=3)
    assert again.pk == first.pk
    assert again.finished_at is not None
    assert again.sites_done == 7
    assert SearchDocument.objects.count() == len(sites)


def test_words_that_nothing_uses_any_more_are_forgotten(company: Company, site: Site) -> None:
    from fleet.search.vocabulary import forget_unused_words

    member = make_member(company)
    other = make_company("Outra Casa")
    elsewhere = site_at(other)
    owned(elsewhere, "Carvalhal")
    indexed(elsewhere)
    Owner.objects.filter(company=company).update(name="Erased")
    sweep_marks()
    forget_unused_words(company.pk)
    with connection.cursor() as cursor:
        cursor.execute("SELECT company_id FROM fleet_searchword WHERE word = 'carvalhal'")
        assert [row[0] for row in cursor.fetchall()] == [other.pk]
        cursor.execute("SELECT count(*) FROM fleet_searchvariant WHERE word = 'rita'")
        assert cursor.fetchone() == (0,)
        cursor.execute("SELECT count(*) FROM fleet_searchvariant WHERE word = 'carvalhal'")
        assert cursor.fetchone()[0] > 0
    assert found(member, "carvalhl") == []
    owned(site, "Rita Outra Vez")
    indexed(site)
    assert found(member, "ritta") == [site.pk]


def test_the_tables_say_when_something_is_missing(company: Company) -> None:
    from fleet.guards import missing_guards

    assert missing_guards(connection) == []
    drop = "DROP TRIGGER fleet_site_mark_update" + ("" if connection.vendor == "sqlite" else " ON fleet_site")
    with connection.cursor() as cursor:
        cursor.execute(drop)
    assert missing_guards(connection) == ["fleet_site_mark_update"]


def test_unused_tables_of_models_keep_their_rows(company: Company) -> None:
    """A device that stands nowhere marks nothing."""
    device = Device.objects.create(company=company, serial="LOOSE-1")
    Device.objects.filter(pk=device.pk).update(serial="LOOSE-2")
    Tag.objects.create(company=company, name="Leste")
    Maker.objects.create(company=company, name="Nova")
    assert not SearchMark.objects.exists()
