"""The catalogue is the company's to change, and labels find what it says under each spelling and number."""

import pytest

from fleet.labels.reading import Reading
from fleet.models import AuditEntry, Device, DeviceModel, Kind, Maker, Member, Role
from fleet.operations.catalogue import maker_named, model_of_reading
from fleet.operations.companies import create_company
from fleet.operations.device_models import (
    BadModel,
    GtinKnown,
    ModelFacts,
    ModelInUse,
    ModelKnown,
    UnknownModel,
    add_model,
    edit_model,
    facts_of_model,
    remove_model,
)
from fleet.operations.makers import (
    BadMaker,
    MakerInUse,
    MakerKnown,
    UnknownMaker,
    add_maker,
    edit_maker,
    merge_makers,
    remove_maker,
)
from fleet.operations.measurement_pages import set_measurement_page
from fleet.operations.plans import plan_unit
from fleet.operations.refusals import NotAllowed
from fleet.operations.scans import record_scan
from fleet.operations.starter_lists import CatalogueBegun, NoSuchList, take_starter_list
from fleet.queries.catalogue import merge_preview
from tests import rows
from tests.factories import make_capture, make_company, make_member, make_site

pytestmark = pytest.mark.django_db
# Check digits worked out by the rule of the GS1 General Specifications, section 7.9; prefix 952 is for examples.
GTIN, OTHER_GTIN, SHORT_GTIN = "09520123456788", "09520001000010", "96385074"


@pytest.fixture
def leonor() -> Member:
    return make_member(role=Role.ADMINISTRATOR)


@pytest.fixture
def maker(leonor: Member) -> Maker:
    return add_maker(actor=leonor, name="Medalto")


def a_model(actor: Member, maker: Maker, name: str = "Fiel 3", **facts: object) -> DeviceModel:
    given = {"name": name, "kind": "meter"} | facts
    return add_model(actor=actor, maker=maker, facts=ModelFacts(**given))  # type: ignore[arg-type]  # of a test's own


def reading(**facts: str) -> Reading:
    return Reading(standard="plain", **facts)  # type: ignore[arg-type]  # of a test's own


def test_a_company_starts_with_an_empty_catalogue():
    company, _member = create_company(name="Telhado Claro", admin_email="leonor@example.org")
    assert not Maker.objects.filter(company=company).exists()


def test_a_starter_list_names_kinds_and_no_makers():
    company, _member = create_company(name="Telhado Claro", admin_email="l@example.org", starter_list="generic")
    assert [maker.name for maker in Maker.objects.filter(company=company)] == ["Maker not named"]
    kinds = set(DeviceModel.objects.filter(company=company).values_list("kind", flat=True))
    assert kinds == set(Kind.values) - {"other"}
    assert not DeviceModel.objects.filter(company=company).exclude(gtin="", part_number="").exists()


def test_a_starter_list_is_taken_once_and_by_administrators(leonor):
    with pytest.raises(NoSuchList):
        take_starter_list(actor=leonor, name="everything")
    with pytest.raises(NotAllowed):
        take_starter_list(actor=make_member(leonor.company), name="generic")
    assert take_starter_list(actor=leonor, name="generic") == 8
    with pytest.raises(CatalogueBegun):
        take_starter_list(actor=leonor, name="generic")


def test_a_model_is_found_by_each_of_its_numbers(leonor, maker):
    model = a_model(leonor, maker, gtins=(GTIN, SHORT_GTIN), part_numbers=("F3-A", "F3-B"))
    for facts in ({"gtin": GTIN}, {"gtin": SHORT_GTIN.zfill(14)}, {"part_number": "F3-A"}, {"part_number": "F3-B"}):
        assert model_of_reading(leonor.company, reading(**facts)) == model
    assert model_of_reading(make_company("Theirs"), reading(gtin=GTIN)) is None
    assert facts_of_model(model).gtins == (GTIN, SHORT_GTIN.zfill(14))


def test_a_gtin_names_one_model(leonor, maker):
    a_model(leonor, maker, gtins=(GTIN, OTHER_GTIN))
    for gtin in (GTIN, OTHER_GTIN):
        with pytest.raises(GtinKnown):
            a_model(leonor, maker, "Fiel 4", gtins=(SHORT_GTIN, gtin))
    a_model(make_member(role=Role.ADMINISTRATOR, company=leonor.company), maker, "Fiel 4", gtins=(SHORT_GTIN,))


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"name": " "}, "name"),
        ({"kind": "turbine"}, "kind"),
        ({"gtins": ("09520123456789",)}, "gtins"),
        ({"gtins": ("123",)}, "gtins"),
        ({"warranty_months": 601}, "warranty_months"),
        ({"ratings": {"ac": "x" * 81}}, "ratings"),
        ({"label_hint": "x" * 201}, "label_hint"),
        ({"current_firmware": "x" * 41}, "current_firmware"),
        ({"part_numbers": ("x" * 81,)}, "part_numbers"),
    ],
)
def test_what_cannot_be_said_of_a_model_is_refused_by_its_field(leonor, maker, facts, field):
    with pytest.raises(BadModel) as refused:
        a_model(leonor, maker, **facts)
    assert set(refused.value.facts["errors"]) == {field}
    assert not DeviceModel.objects.exists()


def test_a_corrected_kind_is_that_of_its_devices_too(leonor, maker):
    model = a_model(leonor, maker)
    device = rows.make_device(leonor.company, kind=Kind.METER, model=model)
    planned = plan_unit(actor=leonor, site=make_site(leonor), kind="", model=model)
    changed = edit_model(actor=leonor, model=model, facts=ModelFacts(name="Fiel 3", kind="optimiser"))
    device.refresh_from_db()
    planned.refresh_from_db()
    assert (changed.kind, device.kind, planned.kind) == ("optimiser",) * 3
    entry = AuditEntry.objects.get(act="edit_model")
    assert (entry.detail.before["kind"], entry.detail.after["kind"]) == ("meter", "optimiser")


def test_names_are_once_capitals_aside(leonor, maker):
    a_model(leonor, maker)
    with pytest.raises(ModelKnown):
        a_model(leonor, maker, "FIEL 3")
    with pytest.raises(MakerKnown):
        add_maker(actor=leonor, name="MEDALTO")
    edit_maker(actor=leonor, maker=maker, name="Medalto", spellings=["Medalto Lda", "medalto"])
    assert list(maker.spellings.values_list("name", flat=True)) == ["Medalto Lda"]
    for act in (
        lambda: add_maker(actor=leonor, name="medalto lda"),
        lambda: add_maker(actor=leonor, name="Acumula", spellings=["Medalto  LDA"]),
    ):
        with pytest.raises(MakerKnown):
            act()


def test_what_is_in_use_is_not_removed(leonor, maker):
    model = a_model(leonor, maker)
    with pytest.raises(MakerInUse):
        remove_maker(actor=leonor, maker=maker)
    device = rows.make_device(leonor.company, model=model)
    with pytest.raises(ModelInUse):
        remove_model(actor=leonor, model=model)
    device.delete()
    remove_model(actor=leonor, model=model)
    remove_maker(actor=leonor, maker=maker)
    assert not Maker.objects.exists()
    assert AuditEntry.objects.get(act="remove_model").detail.before["name"] == "Fiel 3"


def test_a_label_finds_its_model_by_the_merged_spelling(leonor, maker):
    other = add_maker(actor=leonor, name="MEDALTO, Lda.")
    model = a_model(leonor, other, "Folha", kind="optimiser")
    merge_makers(actor=leonor, maker=other, into=maker)
    for name in ("Medalto", "medalto, lda."):
        assert model_of_reading(leonor.company, reading(maker=name, model="FOLHA")) == model
    assert maker_named(leonor.company, "Medalto, Lda.") == maker
    with pytest.raises(MakerKnown):
        add_maker(actor=leonor, name="MEDALTO, LDA.")
    label = "maker: Medalto Lda.\nmodel: Folha\nserial: FO-2"
    edit_maker(actor=leonor, maker=maker, name="Medalto", spellings=["MEDALTO, Lda.", "Medalto Lda."])
    record_scan(actor=leonor, capture=make_capture(make_site(leonor), label, format="", confirmed=True))
    assert Device.objects.get(serial="FO-2").model == model


def test_merging_joins_a_model_that_both_have_and_loses_nothing(leonor, maker):
    other = add_maker(actor=leonor, name="Medalto Lda", spellings=["Medalto & Filhos"])
    kept = a_model(leonor, maker, gtins=(GTIN,), ratings={"phases": "3"}, warranty_months=36)
    same = a_model(
        leonor, other, "FIEL 3", gtins=(OTHER_GTIN,), part_numbers=("F3",), ratings={"phases": "1", "ac": "5 kW"},
        current_firmware="1.2", warranty_months=24,
    )  # fmt: skip
    moved = a_model(leonor, other, "Folha", kind="optimiser")
    devices = [rows.make_device(leonor.company, model=model, kind="meter") for model in (kept, same, same)]
    preview = merge_preview(other, maker)
    assert ([model.name for model in preview.moved], [(was.name, now.pk) for was, now in preview.joined]) == (
        ["Folha"],
        [("FIEL 3", kept.pk)],
    )
    assert preview.devices == 2
    merge_makers(actor=leonor, maker=other, into=maker)
    kept.refresh_from_db()
    moved.refresh_from_db()
    assert {device.pk for device in kept.devices.all()} == {device.pk for device in devices}
    assert moved.maker == maker
    assert (kept.ratings, kept.warranty_months) == ({"ac": "5 kW", "phases": "3"}, 36)
    assert (kept.current_firmware, kept.part_number) == ("1.2", "F3")
    assert model_of_reading(leonor.company, reading(gtin=OTHER_GTIN)) == kept
    assert set(maker.spellings.values_list("name", flat=True)) == {"Medalto Lda", "Medalto & Filhos"}
    assert not Maker.objects.filter(pk=other.pk).exists()
    entry = AuditEntry.objects.get(act="merge_makers")
    assert entry.detail.after == {
        "into": "Medalto", "moved": ["Folha"], "joined": [{"model": "FIEL 3", "devices": 2}],
    }  # fmt: skip


def test_owners_keep_the_link_to_their_measurements_when_makers_are_merged(leonor, maker):
    other = add_maker(actor=leonor, name="Medalto Lda")
    set_measurement_page(actor=leonor, maker="Medalto Lda", url="https://measured.example.com/")
    assert merge_makers(actor=leonor, maker=other, into=maker).measurements_url == "https://measured.example.com/"
    third = add_maker(actor=leonor, name="Medalto SA")
    set_measurement_page(actor=leonor, maker="Medalto SA", url="https://elsewhere.example.com/")
    assert merge_makers(actor=leonor, maker=third, into=maker).measurements_url == "https://measured.example.com/"


def test_a_maker_is_not_merged_with_itself_or_with_another_companys(leonor, maker):
    theirs = make_member(make_company("Theirs"), Role.ADMINISTRATOR)
    their_maker = add_maker(actor=theirs, name="Medalto")
    with pytest.raises(BadMaker):
        merge_makers(actor=leonor, maker=maker, into=maker)
    for pair in ((maker, their_maker), (their_maker, maker)):
        with pytest.raises(UnknownMaker):
            merge_makers(actor=leonor, maker=pair[0], into=pair[1])


def test_only_administrators_change_the_catalogue(leonor, maker):
    model = a_model(leonor, maker)
    office = make_member(leonor.company, Role.OFFICE)
    facts = ModelFacts(name="New", kind="meter")
    for act in (
        lambda: add_maker(actor=office, name="Acumula"),
        lambda: edit_maker(actor=office, maker=maker, name="Acumula", spellings=[]),
        lambda: remove_maker(actor=office, maker=maker),
        lambda: merge_makers(actor=office, maker=maker, into=maker),
        lambda: add_model(actor=office, maker=maker, facts=facts),
        lambda: edit_model(actor=office, model=model, facts=facts),
        lambda: remove_model(actor=office, model=model),
    ):
        with pytest.raises(NotAllowed):
            act()
    theirs = make_member(make_company("Theirs"), Role.ADMINISTRATOR)
    with pytest.raises(UnknownModel):
        edit_model(actor=theirs, model=model, facts=facts)
    with pytest.raises(UnknownModel):
        add_model(actor=theirs, maker=maker, facts=facts)
