"""What is planned at a site and by which numbers others know it; a stated nought is not "nobody said"."""

import pytest

from fleet.models import AuditEntry, Company, ExpectedDevice, Kind, Member, NoneExpected, Placement, Role, Site
from fleet.operations.devices import describe_device
from fleet.operations.placements import undo_placement
from fleet.operations.plans import BadPlan, UnitNotPlanned, change_plan, plan_unit, state_plan, take_unit_off_plan
from fleet.operations.references import BadReference, state_references
from fleet.operations.scans import record_scan
from fleet.operations.site_changes import save_site
from fleet.operations.sites import SiteRetired, StaleSite, UnknownSite, facts_of
from fleet.queries.plans import plan_of, stated_counts
from fleet.search import find_sites
from tests import rows
from tests.factories import make_capture, make_company, make_member, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def office() -> Member:
    return make_member()


@pytest.fixture
def site(office: Member) -> Site:
    return make_site(office)


def a_device(company: Company, site: Site, kind: str = Kind.INVERTER, serial: str = "") -> Placement:
    return rows.place(rows.make_device(company, serial, kind=kind), site)


def test_a_stated_nought_is_told_apart_from_nobody_said(office, site):
    state_plan(actor=office, site=site, counts={"inverter": 1, "optimiser": 0, "meter": None})
    said = stated_counts(site)
    assert (said["inverter"], said["optimiser"], said["meter"], said["battery"]) == (1, 0, None, None)
    assert [(line.kind, line.expected) for line in plan_of(site).lines] == [("inverter", 1), ("optimiser", 0)]


def test_a_number_said_again_replaces_the_one_before(office, site):
    for count, then in ((30, 30), (0, 0), (2, 2), (None, None), (0, 0), (None, None)):
        state_plan(actor=office, site=site, counts={"optimiser": count})
        assert stated_counts(site)["optimiser"] == then
    assert not ExpectedDevice.objects.exists()
    assert not NoneExpected.objects.exists()


def test_saying_the_same_again_leaves_no_further_entry(office, site):
    state_plan(actor=office, site=site, counts={"battery": 0})
    state_plan(actor=office, site=site, counts={"battery": 0})
    entry = AuditEntry.objects.get(act="state_plan")
    assert (entry.detail.before, entry.detail.after) == ({"battery": None}, {"battery": 0})


def test_what_stands_there_already_fulfils_the_plan(office, site):
    placement = a_device(office.company, site)
    state_plan(actor=office, site=site, counts={"inverter": 2})
    line = plan_of(site).lines[0]
    assert (line.expected, line.standing, line.missing) == (2, 1, 1)
    assert ExpectedDevice.objects.get(fulfilled_by=placement).kind == "inverter"


def test_more_than_planned_is_said(office, site):
    a_device(office.company, site, Kind.OPTIMISER)
    state_plan(actor=office, site=site, counts={"optimiser": 0})
    assert plan_of(site).lines[0].not_planned == 1


def test_a_smaller_number_takes_off_what_is_known_least(office, site):
    plan_unit(actor=office, site=site, kind="inverter", serial="SN-7")
    state_plan(actor=office, site=site, counts={"inverter": 4})
    state_plan(actor=office, site=site, counts={"inverter": 1})
    assert [unit.serial for unit in plan_of(site).units] == ["SN-7"]


def test_a_planned_serial_is_ticked_off_by_its_scan(office, site):
    plan_unit(actor=office, site=site, kind="battery", serial="SN000007")
    record_scan(actor=office, capture=make_capture(site, "010952012345678821SN000007"))
    assert plan_of(site).units[0].fulfilled_by is not None


def test_saying_what_a_device_is_settles_the_plan(office, site):
    placement = a_device(office.company, site, Kind.OTHER)
    state_plan(actor=office, site=site, counts={"meter": 1})
    assert ExpectedDevice.objects.get().fulfilled_by is None
    describe_device(actor=office, placement=placement, kind="meter")
    assert ExpectedDevice.objects.get().fulfilled_by == placement
    describe_device(actor=office, placement=placement, kind="charge_point")
    assert ExpectedDevice.objects.get().fulfilled_by is None


def test_an_undone_placement_is_expected_again_and_another_unit_that_stands_there_takes_its_place(office, site):
    plan_unit(actor=office, site=site, kind="battery", serial="SN000007")
    state_plan(actor=office, site=site, counts={"inverter": 1})
    record_scan(actor=office, capture=make_capture(site, "010952012345678821SN000007"))
    first, second = a_device(office.company, site), a_device(office.company, site)
    state_plan(actor=office, site=site, counts={"meter": 0})
    assert ExpectedDevice.objects.get(kind="inverter").fulfilled_by == first
    leonor = make_member(office.company, Role.ADMINISTRATOR)
    undo_placement(actor=leonor, placement=Placement.objects.get(device__serial="SN000007"))
    undo_placement(actor=leonor, placement=first)
    assert ExpectedDevice.objects.get(serial="SN000007").fulfilled_by is None
    assert ExpectedDevice.objects.get(kind="inverter").fulfilled_by == second


def test_a_planned_unit_lifts_the_nought(office, site):
    state_plan(actor=office, site=site, counts={"battery": 0})
    plan_unit(actor=office, site=site, kind="battery", position="Cellar")
    assert stated_counts(site)["battery"] == 1
    assert not NoneExpected.objects.exists()


def test_a_model_settles_the_kind_and_must_be_the_companys(office, site):
    model = rows.make_model(office.company, kind=Kind.METER)
    assert plan_unit(actor=office, site=site, kind="inverter", model=model).kind == "meter"
    with pytest.raises(BadPlan):
        plan_unit(actor=office, site=site, kind="meter", model=rows.make_model(make_company("Theirs")))


def test_a_unit_leaves_the_plan_by_its_serial_and_nothing_else_with_it(office, site):
    plan_unit(actor=office, site=site, kind="battery", serial="SN-1")
    plan_unit(actor=office, site=site, kind="battery", serial="SN-2")
    with pytest.raises(BadPlan):
        plan_unit(actor=office, site=site, kind="battery", serial="SN-2")
    take_unit_off_plan(actor=office, site=site, serial="SN-1")
    assert [unit.serial for unit in plan_of(site).units] == ["SN-2"]
    for serial in ("SN-1", ""):
        with pytest.raises(UnitNotPlanned):
            take_unit_off_plan(actor=office, site=site, serial=serial)


def test_a_change_that_fails_halfway_changes_nothing(office, site):
    plan_unit(actor=office, site=site, kind="battery", serial="SN-1")
    with pytest.raises(BadPlan):
        change_plan(actor=office, site=site, counts={"optimiser": 1000}, take_off="SN-1")
    assert [unit.serial for unit in plan_of(site).units] == ["SN-1"]


@pytest.mark.parametrize("counts", [{"optimiser": -1}, {"optimiser": 1000}, {"turbine": 1}])
def test_a_number_that_cannot_be_is_refused_by_its_kind(office, site, counts):
    with pytest.raises(BadPlan) as refused:
        state_plan(actor=office, site=site, counts={"inverter": 1} | counts)
    assert refused.value.field == next(iter(counts))
    assert stated_counts(site)["inverter"] is None


def test_plan_and_numbers_are_for_those_who_see_the_site_and_while_it_stands(office, site):
    stranger = make_member(office.company, Role.FIELD)
    for act in (
        lambda actor: state_plan(actor=actor, site=site, counts={"inverter": 1}),
        lambda actor: plan_unit(actor=actor, site=site, kind="inverter"),
        lambda actor: take_unit_off_plan(actor=actor, site=site, serial="SN"),
        lambda actor: state_references(actor=actor, site=site, references=[("order", "A1")]),
    ):
        for actor in (stranger, make_member(make_company("Theirs"))):
            with pytest.raises(UnknownSite):
                act(actor)
    Site.objects.filter(pk=site.pk).update(stage="retired")
    site.refresh_from_db()
    with pytest.raises(SiteRetired):
        state_plan(actor=office, site=site, counts={"inverter": 1})
    with pytest.raises(SiteRetired):
        state_references(actor=office, site=site, references=[("order", "A1")])


def test_a_site_is_found_by_its_order_number_until_that_is_taken_off(office, site):
    def found(text: str) -> list[int]:
        return [row.site_id for row in find_sites(member=office, text=text).rows]

    state_references(actor=office, site=site, references=[("order", " A-70003012 "), ("meter_point", "PT0002")])
    assert found("A-70003012") == [site.pk]
    state_references(actor=office, site=site, references=[("order", "B-1"), ("order", "B-1"), ("customer", " ")])
    assert found("A-70003012") == []
    assert list(site.references.values_list("kind", "value")) == [("order", "B-1")]
    entry = AuditEntry.objects.filter(act="state_references").latest("pk")
    assert entry.detail.before == {"meter_point": ["PT0002"], "order": ["A-70003012"]}
    assert entry.detail.after == {"order": ["B-1"]}


@pytest.mark.parametrize("number", [("barcode", "A1"), ("order", "A" * 81)])
def test_a_number_that_cannot_be_used_changes_nothing(office, site, number):
    state_references(actor=office, site=site, references=[("order", "A1")])
    with pytest.raises(BadReference):
        state_references(actor=office, site=site, references=[("order", "A2"), number])
    assert list(site.references.values_list("value", flat=True)) == ["A1"]


def test_a_stale_form_saves_neither_facts_nor_numbers_nor_plan(office, site):
    save_site(actor=office, site=site, facts=facts_of(site, note="first"), version=1)
    with pytest.raises(StaleSite):
        save_site(
            actor=office, site=site, facts=facts_of(site, note="second"), version=1,
            references=[("order", "A1")], counts={"inverter": 1},
        )  # fmt: skip
    assert not site.references.exists()
    assert not ExpectedDevice.objects.exists()


def test_facts_are_not_saved_where_a_number_is_refused(office, site):
    with pytest.raises(BadReference):
        save_site(
            actor=office, site=site, facts=facts_of(site, note="new"), version=1, references=[("order", "A" * 81)]
        )
    assert Site.objects.get(pk=site.pk).note == ""
