from decimal import Decimal

import pytest

from fleet.labels.sitecode import parse_site_code
from fleet.models import AuditEntry, Role, Site, SiteCodeAlias
from fleet.operations.checks import BadCheck, record_check
from fleet.operations.files import BadFile, FileTooLarge, store_file
from fleet.operations.refusals import NotAllowed
from fleet.operations.site_guard import SiteRetired, UnknownSite
from fleet.operations.site_stages import WrongStage, hand_over_site, retire_site
from fleet.operations.sites import (
    BadSiteFacts,
    SiteFacts,
    StaleSite,
    edit_site,
    facts_of,
    register_site,
    tag_site,
)
from fleet.queries.sites import site_by_code
from fleet.queries.visibility import may_see
from tests.factories import make_company, make_member, make_site

pytestmark = pytest.mark.django_db


def test_a_registered_site_has_a_code_that_reads_back_and_the_zone_of_its_place():
    office = make_member()
    site = make_site(office, latitude=Decimal("37.741"), longitude=Decimal("-25.675"))  # Ponta Delgada
    assert parse_site_code(site.written_code) == site.code
    assert (site.time_zone, site.stage) == ("Atlantic/Azores", "planned")
    assert make_site(office).time_zone == "Europe/Lisbon"


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"street": ""}, "street"),
        ({"latitude": Decimal(91), "longitude": Decimal(0)}, "latitude"),
        ({"installed_kwp": Decimal(-1)}, "installed_kwp"),
        ({"use": "castle"}, "use"),
        ({"phases": 4}, "phases"),
        ({"town": "x" * 101}, "town"),
        ({"latitude": Decimal(38)}, "__all__"),
    ],
)
def test_facts_that_cannot_be_used_name_their_field_and_save_nothing(facts, field):
    with pytest.raises(BadSiteFacts) as refused:
        make_site(make_member(), **facts)
    assert field in refused.value.facts["errors"]
    assert not Site.objects.exists()


def test_a_save_over_somebody_elses_is_refused():
    office = make_member()
    site = make_site(office)
    edit_site(actor=office, site=site, facts=facts_of(site, note="first"), version=1)
    with pytest.raises(StaleSite):
        edit_site(actor=office, site=site, facts=facts_of(site, note="second"), version=1)
    site.refresh_from_db()
    assert (site.note, site.version) == ("first", 2)
    detail = AuditEntry.objects.get(act="edit_site").detail
    assert (detail.before, detail.after) == ({"note": ""}, {"note": "first"})


def test_a_foreign_site_is_unknown_to_every_act():
    site, stranger = make_site(make_member()), make_member(make_company("Other"), Role.ADMINISTRATOR)
    for act in (
        lambda: edit_site(actor=stranger, site=site, facts=facts_of(site), version=1),
        lambda: hand_over_site(actor=stranger, site=site),
        lambda: retire_site(actor=stranger, site=site),
        lambda: tag_site(actor=stranger, site=site, names=["x"]),
        lambda: record_check(actor=stranger, site=site, title="Label", finding="done"),
    ):
        with pytest.raises(UnknownSite):
            act()
    assert site_by_code(stranger, site.code) is None


def test_a_site_is_handed_over_once_and_a_retired_one_takes_no_edits():
    office = make_member()
    site = make_site(office)
    hand_over_site(actor=office, site=site)
    with pytest.raises(WrongStage):
        hand_over_site(actor=office, site=site)
    retire_site(actor=office, site=site)
    with pytest.raises(SiteRetired):
        edit_site(actor=office, site=site, facts=facts_of(site), version=site.version)


def test_what_a_field_member_registers_they_see():
    office = make_member()
    field = make_member(office.company, Role.FIELD)
    assert may_see(field, make_site(field))
    assert not may_see(field, make_site(office))


def test_tags_are_replaced_as_a_set_and_known_whatever_their_case():
    office = make_member()
    first, second = make_site(office), make_site(office)
    tag_site(actor=office, site=first, names=["Flat roof", "2026"])
    tag_site(actor=office, site=second, names=["flat ROOF", " "])
    tag_site(actor=office, site=first, names=["2026"])
    assert [tag.name for tag in first.tags.all()] == ["2026"]
    assert [tag.name for tag in second.tags.all()] == ["Flat roof"]


@pytest.mark.parametrize(
    "typed", [str.lower, lambda code: code[:4] + " " + code[4:], lambda code: code.replace("0", "o").replace("1", "L")]
)
def test_a_code_is_found_as_people_type_it(typed):
    office = make_member()
    site = make_site(office)
    assert site_by_code(office, typed(site.code)) == site


def test_the_code_of_a_merged_site_still_resolves():
    office = make_member()
    site, gone = make_site(office), make_site(office)
    old_code = gone.code
    Site.objects.filter(pk=gone.pk).update(code="00000000")
    SiteCodeAlias.objects.create(company=office.company, code=old_code, site=site)
    assert site_by_code(office, old_code) == site


def test_a_finding_is_recorded_with_who_and_waiving_is_for_administrators():
    office = make_member()
    site = make_site(office)
    record_check(actor=office, site=site, title="Insulation measured", finding="problem", note="string 2")
    check = record_check(actor=office, site=site, title="Insulation measured", finding="done")
    assert (check.finding, check.note, check.found_by) == ("done", "", office)
    with pytest.raises(NotAllowed):
        record_check(actor=office, site=site, title="Insulation measured", finding="waived")
    with pytest.raises(BadCheck):
        record_check(actor=office, site=site, title=" ", finding="done")


def test_the_same_photo_twice_is_one_file_and_other_kinds_are_refused():
    office = make_member()
    site = make_site(office)
    png = b"\x89PNG\r\n\x1a\n" + b"0" * 100
    first = store_file(actor=office, site=site, name="roof.png", content=png, content_type="image/png")
    assert store_file(actor=office, site=site, name="again.png", content=png, content_type="image/png") == first
    for content, kind in ((b"<html>", "text/html"), (b"GIF89a", "image/png"), (b"", "image/png")):
        with pytest.raises(BadFile):
            store_file(actor=office, site=site, name="x", content=content, content_type=kind)


def test_registering_needs_a_role_that_may():
    office = make_member()
    office.active = False
    with pytest.raises(NotAllowed):
        register_site(actor=office, facts=SiteFacts(street="Rua", town="Faro"))


def test_the_setting_governs_how_large_a_file_may_be(settings):
    office = make_member()
    site = make_site(office)
    picture = b"\x89PNG\r\n\x1a\n" + bytes(200_000)
    settings.UPLOAD_MAX_BYTES = 150_000
    with pytest.raises(FileTooLarge) as refused:
        store_file(actor=office, site=site, name="roof", content=picture, content_type="image/png")
    assert "at most 146.5" in str(refused.value.sentence)
    settings.UPLOAD_MAX_BYTES = 20_000_000
    larger = picture + bytes(13_000_000)
    assert store_file(actor=office, site=site, name="roof", content=larger, content_type="image/png").size > 13_000_000
