"""Filters beside the text: what each leaves, their counts, and their URL. Runs on both databases."""

from datetime import date
from typing import Any

import pytest
from django.http import QueryDict

from fleet.models import Assignment, InstalledFirmware, Member, Site, SiteSummary
from fleet.search import SiteFilters, narrowing
from fleet.search.choices import count_choices
from fleet.search.narrowing import is_below, narrowed
from fleet.search.statements import Statement
from tests.factories import make_company, make_member
from tests.fleet.search.samples import (
    SINCE,
    counts_steps,
    found,
    indexed,
    looked_for,
    model_of,
    placed,
    site_at,
    steps_of,
    tagged,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def office() -> Member:
    return make_member(make_company())


@pytest.fixture
def three(office: Member) -> tuple[Site, Site, Site]:
    """Three sites that differ in everything that can be filtered."""
    company = office.company
    first = site_at(company, "Rua Um", stage="installed", region="Norte", installed_on=date(2024, 1, 10))
    second = site_at(company, "Rua Dois", stage="handed_over", region="Sul", installed_on=date(2024, 2, 10))
    third = site_at(company, "Rua Três", stage="planned", region="Sul")
    inverter, battery = model_of(company, "Helionave", "HX-5"), model_of(company, "Vulcaris", "V10", "battery")
    old, new = placed(first, "AA-1001", model=inverter), placed(second, "AA-1002", model=battery)
    placed(third, "AA-1003", model=inverter, until=SINCE)
    InstalledFirmware.objects.create(company=company, device=old, version="1.10.0", seen_at=SINCE)
    InstalledFirmware.objects.create(company=company, device=new, version="1.9.2")
    tagged(first, "Urgente")
    tagged(second, "Urgente", "Piloto")
    Assignment.objects.create(company=company, member=office, site=first)
    Assignment.objects.create(company=company, member=office, site=third, until=date(2024, 1, 1))
    indexed(first, second, third)
    SiteSummary.objects.filter(site=first).update(invitation_state="sent", missing_permissions="monitoring contact")
    SiteSummary.objects.filter(site=second).update(invitation_state="accepted", missing_permissions="")
    return first, second, third


def filtered(office: Member, text: str = "rua", **values: Any) -> set[int]:
    return set(found(office, text, filters=SiteFilters(**values)))


@pytest.mark.parametrize("few", [0, 2000], ids=["at each site", "from few rows"])
@pytest.mark.parametrize(
    ("values", "left"),
    [
        ({"stage": ("installed",)}, {0}),
        ({"stage": ("installed", "planned")}, {0, 2}),
        ({"invitation": ("sent",)}, {0}),
        ({"invitation": ("accepted", "sent")}, {0, 1}),
        ({"missing": ("monitoring",)}, {0, 2}),
        ({"missing": ("contact",)}, {0, 2}),
        ({"kind": ("inverter",)}, {0}),  # the third's inverter has left
        ({"kind": ("battery", "inverter")}, {0, 1}),
        ({"maker": ("helionave",)}, {0}),
        ({"maker": ("Helionave",), "kind": ("battery",)}, set()),
        ({"firmware_below": "1.10"}, {1}),
        ({"firmware_below": "2"}, {0, 1}),
        ({"firmware_below": "2", "kind": ("inverter",)}, {0}),
        ({"region": ("Sul",)}, {1, 2}),
        ({"installed_from": date(2024, 1, 10), "installed_until": date(2024, 1, 31)}, {0}),
        ({"installed_from": date(2024, 1, 11)}, {1}),
        ({"tag": ("Urgente",)}, {0, 1}),
        ({"tag": ("Piloto", "Nirgends")}, {1}),
        ({"tag": ("Urgente",), "region": ("Sul",), "stage": ("handed_over",)}, {1}),
        ({"stage": ("nonsense",)}, set()),
    ],
)
def test_each_filter_leaves_what_it_should(
    office: Member,
    three: tuple[Site, Site, Site],
    values: dict[str, Any],
    left: set[int],
    few: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(narrowing, "_FEW", few)
    SiteSummary.objects.filter(site=three[2]).update(missing_permissions="monitoring home_network contact")
    wanted = {three[number].pk for number in left}
    assert filtered(office, **values) == wanted
    assert filtered(office, text="", **values) == wanted
    assert filtered(office, text="rua aa-100", **values) <= wanted
    results = looked_for(office, "", filters=SiteFilters(**values))
    assert (results.total, results.total_capped) == (len(wanted), False)


@counts_steps
def test_a_model_at_many_sites_is_looked_for_at_each_site(
    office: Member, three: tuple[Site, Site, Site], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Not the other way round, from all its devices at each site."""
    monkeypatch.setattr(narrowing, "_FEW", 1)
    model = three[0].placements.get().device.model
    assert model is not None
    filters = SiteFilters(model=(str(model.public_id),))

    def steps_per_site() -> float:
        sites = narrowed(Site.objects.filter(company=office.company), office, filters, from_rows=True)
        return steps_of(Statement(*sites.values("pk").query.sql_with_params())) / Site.objects.count()

    per_site: list[float] = []
    for _ in range(2):
        for number in range(40):
            placed(site_at(office.company, f"Rua {number}"), f"BB-{len(per_site)}{number:03}", model=model)
        per_site.append(steps_per_site())
    assert per_site[1] < per_site[0] * 1.2


@counts_steps
@pytest.mark.parametrize(
    "values", [{"invitation": ("accepted",)}, {"model": True}, {"tag": ("Piloto",)}, {"maker": ("Vulcaris",)}]
)
def test_a_filter_that_few_sites_pass_does_not_look_through_the_others(
    office: Member, three: tuple[Site, Site, Site], values: dict[str, Any]
) -> None:
    if "model" in values:
        values = {"model": (str(three[1].placements.get().device.model.public_id),)}
    filters = SiteFilters(**values)

    def steps() -> int:
        sites = narrowed(Site.objects.filter(company=office.company), office, filters, from_rows=True)
        return steps_of(Statement(*sites.values("pk").query.sql_with_params()))

    few = steps()
    indexed(*(site_at(office.company, f"Rua {number}") for number in range(300)))
    assert 0 < steps() < few + 100


def test_assigned_members_and_models_are_chosen_by_public_id(office: Member, three: tuple[Site, Site, Site]) -> None:
    model = three[0].placements.get().device.model
    assert model is not None
    assert filtered(office, assigned=(str(office.public_id),)) == {three[0].pk}
    assert filtered(office, model=(str(model.public_id),)) == {three[0].pk}


def test_filters_go_round_through_a_url() -> None:
    query = QueryDict(
        "stage=planned&stage=installed&missing=contact&firmware_below=2.1&installed_from=2024-01-10&tag=Norte+%26+Sul&q=x"
    )
    filters = SiteFilters.from_query(query)
    assert filters.stage == ("planned", "installed")
    assert filters.installed_from == date(2024, 1, 10)
    assert filters.tag == ("Norte & Sul",)
    assert SiteFilters.from_query(QueryDict(filters.to_query())) == filters
    assert not SiteFilters.from_query(QueryDict("q=x&page=2&installed_from=yesterday&assigned=me&model=%00&stage="))


def test_counts_say_what_each_choice_would_leave(office: Member, three: tuple[Site, Site, Site]) -> None:
    def counts(**more: Any) -> dict[str, dict[str, int]]:
        counted = count_choices(member=office, **more)
        return {name: {choice.value: choice.count for choice in choices} for name, choices in counted.items()}

    everything = counts()
    assert everything["stage"] == {"planned": 1, "installed": 1, "handed_over": 1}
    assert everything["region"] == {"Norte": 1, "Sul": 2}
    assert everything["kind"] == {"inverter": 1, "battery": 1}
    assert everything["maker"] == {"Helionave": 1, "Vulcaris": 1}
    assert everything["tag"] == {"Piloto": 1, "Urgente": 2}
    assert everything["invitation"]["sent"] == 1
    assert everything["missing"]["contact"] >= 1
    narrowed = counts(filters=SiteFilters(region=("Sul",)))
    assert narrowed["region"] == {"Norte": 1, "Sul": 2}  # a filter does not narrow its own choices
    assert narrowed["stage"] == {"planned": 1, "handed_over": 1}
    assert counts(text="dois")["tag"] == {"Piloto": 1, "Urgente": 1}


@pytest.mark.parametrize("text", ["", "rua"])
@pytest.mark.parametrize("others", [{}, {"region": ("Sul",)}, {"maker": ("Helionave",), "stage": ("installed",)}])
def test_a_count_is_what_the_filter_would_leave(
    office: Member, three: tuple[Site, Site, Site], text: str, others: dict[str, Any]
) -> None:
    filters = SiteFilters(**others)
    counted = count_choices(member=office, text=text, filters=filters)
    told = {(name, choice.value): choice.count for name, choices in counted.items() for choice in choices}
    left = {(name, value): len(filtered(office, text, **others | {name: (value,)})) for name, value in told}
    assert told == left
    assert len(told) > 8


@pytest.mark.parametrize(
    ("version", "bound", "below"),
    [
        ("1.9.2", "1.10", True),
        ("1.10", "1.9.2", False),
        ("2.0", "2.0", False),
        ("2.0", "2.0.1", True),
        ("2.0-rc1", "2.0", True),
        ("V3", "v4", True),
        ("", "1", True),
    ],
)
def test_firmware_versions_are_compared_by_their_numbers(version: str, bound: str, below: bool) -> None:
    assert is_below(version, bound) is below
