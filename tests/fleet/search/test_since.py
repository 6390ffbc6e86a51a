"""Since when a site's stage and next move hold: other changes leave it, and lists go by it. Runs on both databases."""

from datetime import UTC, date, datetime, timedelta
from importlib import import_module
from typing import Any

import pytest
from django.apps import apps
from django.db import connection
from django.utils import timezone

from fleet.models import Assignment, Member, Role, Site, SiteSummary, Stage
from fleet.operations.site_stages import hand_over_site
from fleet.operations.sites import edit_site, facts_of, tag_site
from fleet.queries.stuck_sites import sites_awaiting, sites_in_stage
from fleet.search import reindex
from fleet.search.check import differences
from fleet.search.rebuild import rebuild
from onboarding.models import Ownership
from tests import rows
from tests.factories import make_company, make_contact_consent, make_invitation, make_member, make_owner, make_site
from tests.fleet.search.samples import indexed, model_of, placed, site_at

pytestmark = pytest.mark.django_db
EARLY, LATER = datetime(2024, 3, 1, 9, tzinfo=UTC), datetime(2025, 3, 1, 9, tzinfo=UTC)


@pytest.fixture
def office() -> Member:
    return make_member(make_company())


def held_since(site: Site, stage: datetime, move: datetime) -> None:
    SiteSummary.objects.filter(site=site).update(stage_since=stage, move_since=move)


def since(site: Site) -> tuple[datetime, datetime]:
    summary = SiteSummary.objects.get(site=site)
    return summary.stage_since, summary.move_since


def test_a_note_a_tag_and_a_rebuild_leave_since_when_a_state_holds(office: Member):
    site = make_site(office)
    held_since(site, EARLY, LATER)
    edit_site(actor=office, site=site, facts=facts_of(site, note="Ladder behind the house"), version=site.version)
    tag_site(actor=office, site=site, names=["Key at the neighbour's"])
    rebuild(afresh=True)
    assert since(site) == (EARLY, LATER)
    assert differences() == []


def test_each_state_begins_when_it_changes_and_the_other_stays(office: Member):
    site = make_site(office)
    held_since(site, EARLY, EARLY)
    before = timezone.now()
    make_owner(office, site)
    stage, move = since(site)
    assert stage == EARLY
    assert before <= move <= timezone.now()
    held_since(site, EARLY, LATER)
    hand_over_site(actor=office, site=site)
    stage, move = since(site)
    assert before <= stage <= timezone.now()
    assert move == LATER


def test_a_stage_that_is_gone_back_to_holds_since_its_own_beginning(office: Member):
    site = site_at(office.company, stage=Stage.INSTALLED, installed_on=date(2024, 3, 1))
    indexed(site)
    Site.objects.filter(pk=site.pk).update(stage=Stage.HANDED_OVER, handed_over_at=timezone.now())
    indexed(site)
    assert since(site)[0] > LATER
    Site.objects.filter(pk=site.pk).update(stage=Stage.INSTALLED, handed_over_at=None)
    indexed(site)
    assert since(site)[0].date() == date(2024, 3, 1)


@pytest.mark.parametrize(
    ("facts", "begun"),
    [
        ({"stage": "planned", "created_at": EARLY, "installed_on": date(2023, 1, 1)}, EARLY),
        ({"stage": "installed", "created_at": LATER, "installed_on": EARLY.date()}, datetime(2024, 3, 1, tzinfo=UTC)),
        ({"stage": "installed", "created_at": LATER}, LATER),
        ({"stage": "handed_over", "created_at": EARLY, "handed_over_at": LATER}, LATER),
        ({"stage": "retired", "created_at": EARLY, "retired_at": LATER}, LATER),
    ],
)
def test_a_site_without_a_summary_says_it_by_its_own_days(office: Member, facts: dict[str, Any], begun: datetime):
    site = site_at(office.company, **facts)
    indexed(site)
    assert since(site)[0] == begun


def test_a_day_to_come_is_not_since_when_something_holds(office: Member):
    site = site_at(office.company, stage="installed", installed_on=timezone.now().date() + timedelta(days=9))
    indexed(site)
    assert since(site)[0] <= timezone.now()


def test_the_next_move_of_a_loaded_site_holds_since_its_owner_was_last_heard_of(office: Member):
    site = site_at(office.company, created_at=EARLY)
    owner = rows.make_owner(office.company)
    rows.own(owner, site, since=EARLY)
    indexed(site)
    assert since(site) == (EARLY, EARLY)
    rows.make_invitation(site, owner, created_at=EARLY, sent_at=LATER)
    SiteSummary.objects.filter(site=site).delete()
    indexed(site)
    assert since(site) == (EARLY, LATER)


def test_the_longest_waiting_come_first_whatever_was_touched_last(office: Member):
    sites = [make_site(office) for _ in range(4)]
    for site, days in zip(sites, (3, 9, 1, 30), strict=True):
        moment = timezone.now() - timedelta(days=days)
        held_since(site, moment, moment)
    longest = sites[3]
    edit_site(actor=office, site=longest, facts=facts_of(longest, note="x"), version=longest.version)
    in_order = [sites[3].pk, sites[1].pk, sites[0].pk, sites[2].pk]
    assert [site.pk for site in sites_in_stage(office, Stage.PLANNED)] == in_order
    assert [site.pk for site in sites_awaiting(office, "register_owner")] == in_order
    assert sites_awaiting(office, "register_owner")[0].summary.move_since < timezone.now() - timedelta(days=29)


def test_today_tells_how_long_a_state_holds_not_when_the_site_was_touched(office: Member, client):
    site = make_site(office)
    held_since(site, timezone.now() - timedelta(days=3 * 366), timezone.now() - timedelta(days=15))
    edit_site(actor=office, site=site, facts=facts_of(site, note="x"), version=site.version)
    client.force_login(office.user)
    page = client.get("/").content.decode().replace("\xa0", " ")
    assert "3 years" in page
    assert "2 weeks" in page
    assert "0 minutes" not in page


def test_a_field_member_sees_the_longest_waiting_of_their_own(office: Member):
    field = make_member(office.company, Role.FIELD)
    sites = [make_site(office) for _ in range(3)]
    for days, site in enumerate(sites):
        held_since(site, timezone.now() - timedelta(days=days), timezone.now())
    Assignment.objects.create(company=office.company, member=field, site=sites[0])
    Assignment.objects.create(company=office.company, member=field, site=sites[1])
    assert [site.pk for site in sites_in_stage(field, Stage.PLANNED)] == [sites[1].pk, sites[0].pk]


class _Editor:
    connection = connection


def test_rows_of_before_get_what_indexing_would_write(office: Member, monkeypatch: pytest.MonkeyPatch):
    fleet = import_module("fleet.migrations.0013_fill_summaries")
    onboarding = import_module("onboarding.migrations.0011_moves_since")
    monkeypatch.setattr(fleet, "AT_ONCE", 2)
    monkeypatch.setattr(onboarding, "AT_ONCE", 2)
    sites = [make_site(office, street=f"Rua da Água {number}") for number in range(5)]
    placed(sites[0], "AA-1", model=model_of(office.company, "Helionave", "HX"))
    owner = make_owner(office, sites[1])
    make_contact_consent(office, sites[1], owner)
    make_invitation(office, sites[1], owner)
    Ownership.objects.filter(site=sites[1]).update(since=timezone.now())
    reindex([site.pk for site in sites])
    kept = {summary.pk: summary for summary in SiteSummary.objects.all()}
    SiteSummary.objects.update(
        stage="", stage_since=LATER, move_since=LATER, region="x", kinds="", model_ids="", address_key="", owner_key="",
        pv_watts=7, storage_wh=7,
    )  # fmt: skip
    fleet.fill(apps, _Editor)
    onboarding.fill(apps, _Editor)
    assert differences() == []
    for summary in SiteSummary.objects.all():
        assert abs(summary.stage_since - kept[summary.pk].stage_since) < timedelta(minutes=1)
        assert abs(summary.move_since - kept[summary.pk].move_since) < timedelta(minutes=1)
