"""Counts beside and above the list are what counting the sites themselves gives. Runs on both databases."""

from itertools import combinations
from random import Random

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.models import Assignment, InstalledFirmware, Member, Site, SiteSummary
from fleet.search import SiteFilters, counting
from fleet.search.choices import count_choices
from fleet.search.counting import count_sites
from fleet.search.listing import list_sites
from fleet.search.narrowing import narrowed
from fleet.search.statements import Statement
from tests.factories import make_company, make_member
from tests.fleet.search.samples import SINCE, counts_steps, indexed, model_of, placed, site_at, steps_of, tagged

pytestmark = pytest.mark.django_db
VALUES = {
    "stage": ("planned", "installed", "handed_over"),
    "invitation": ("sent", "accepted", "none"),
    "missing": ("contact", "monitoring"),
    "next_move": ("invite", "owner_accepts", "none"),
    "region": ("Norte", "Sul"),
    "kind": ("inverter", "battery"),
    "maker": ("Helionave", "vulcaris"),
    "tag": ("Urgente",),
    "firmware_below": "2.0",
}


@pytest.fixture
def office() -> Member:
    return make_member(make_company())


@pytest.fixture
def fleet(office: Member) -> list[Site]:
    """Thirty sites of one company that differ in all that is filtered, and a stranger's."""
    random, company = Random(11), office.company
    models = [
        model_of(company, "Helionave", "HX-5"),
        model_of(company, "Helionave", "HB-7", "battery"),
        model_of(company, "Vulcaris", "V10", "battery"),
    ]
    sites = []
    for number in range(30):
        site = site_at(
            company, f"Rua {number}", stage=random.choice(VALUES["stage"]), region=random.choice(("Norte", "Sul", ""))
        )
        for each in range(random.randrange(4)):
            device = placed(site, f"AA-{number}-{each}", model=random.choice([*models, None]))
            if random.random() < 0.5:
                version = random.choice(("1.9", "2.1"))
                InstalledFirmware.objects.create(company=company, device=device, version=version, seen_at=SINCE)
        placed(site, f"GONE-{number}", model=models[2], until=SINCE)
        if random.random() < 0.4:
            tagged(site, "Urgente")
        if random.random() < 0.3:
            Assignment.objects.create(company=company, member=office, site=site)
        sites.append(site)
    stranger = site_at(make_company(), "Rua 1", stage="planned", region="Norte")
    indexed(*sites, stranger)
    for site in sites:
        SiteSummary.objects.filter(site=site).update(
            invitation_state=random.choice(("sent", "accepted", "")),
            missing_permissions=random.choice(("", "contact", "monitoring contact")),
            next_move=random.choice(("invite", "owner_accepts", "")),
        )
    return sites


def chosen(*names: str) -> SiteFilters:
    """One value of each named filter."""
    given = {name: VALUES[name] if name == "firmware_below" else VALUES[name][:1] for name in names}
    return SiteFilters(**given)  # type: ignore[arg-type]


def counted_directly(member: Member, filters: SiteFilters) -> int:
    return narrowed(Site.objects.filter(company=member.company), member, filters).distinct().count()


ALL_PAIRS = [*combinations(VALUES, 1), *combinations(VALUES, 2), ("kind", "maker", "stage"), ("stage", "region", "tag")]


def test_a_count_is_what_counting_the_sites_gives(office: Member, fleet: list[Site]):
    told = {names: count_sites(office, chosen(*names)) for names in [(), *ALL_PAIRS]}
    assert told == {names: (counted_directly(office, chosen(*names)), False) for names in told}
    assert len({number for number, _more in told.values()}) > 8  # they differ, so they do count


@pytest.mark.parametrize("names", [(), ("stage",), ("kind",), ("maker",), ("maker", "region"), ("firmware_below",)])
def test_beside_each_choice_stands_what_it_would_leave(office: Member, fleet: list[Site], names: tuple[str, ...]):
    filters = chosen(*names)
    choices = count_choices(member=office, filters=filters)
    told = {(name, choice.value): choice.count for name, each in choices.items() for choice in each}
    told = {key: number for key, number in told.items() if number}
    others = {
        (name, value): SiteFilters(**({field: getattr(filters, field) for field in VALUES} | {name: (value,)}))
        for name, value in told
    }
    assert told == {key: counted_directly(office, each) for key, each in others.items()}
    assert len(told) > 10
    assert not any(choice.capped for each in choices.values() for choice in each)


def test_more_than_the_bound_is_told_as_more(office: Member, fleet: list[Site], monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setattr(counting, "COUNTED_EXACTLY", 7)
    assert count_sites(office) == (7, True)
    assert count_sites(office, chosen("maker"))[1]
    page = list_sites(member=office)
    assert (page.total, page.surely_more) == (7, True)


def test_words_that_no_choice_has_are_counted_as_nothing(office: Member, fleet: list[Site]):
    for filters in (SiteFilters(kind=("e",)), SiteFilters(missing=("con",)), SiteFilters(maker=("Heli",))):
        assert count_sites(office, filters) == (0, False) == (counted_directly(office, filters), False)


@counts_steps
def test_counting_reads_one_index_alone(office: Member, fleet: list[Site]):
    with CaptureQueriesContext(connection) as asked:
        count_sites(office, chosen("stage", "next_move", "invitation", "region", "kind"))
    [count] = [each["sql"] for each in asked]
    plan = " ".join(str(row[3]) for row in Statement(f"EXPLAIN QUERY PLAN {count}", []).run())
    assert "USING COVERING INDEX summary_for_counts" in plan
    assert steps_of(Statement(count, [])) < 2000
