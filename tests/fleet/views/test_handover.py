"""Handing a site over: the page asks and shows what is open; whoever did it, or an administrator, takes it back."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from unittest.mock import patch

import pytest
from django.test import Client
from django.utils import timezone

from fleet.models import AuditEntry, Member, Role, Site, Stage
from fleet.operations.checks import record_check
from fleet.operations.refusals import NotAllowed
from fleet.operations.site_stages import NotHandedOver, hand_over_site, take_back_handover
from tests.factories import make_company, make_member, make_owner, make_site

pytestmark = pytest.mark.django_db


def _client(member: Member) -> Client:
    client = Client()
    client.force_login(member.user)
    return client


@contextmanager
def a_day_later() -> Iterator[None]:
    """The clock of acts and pages is a day and a minute ahead."""
    ahead = timezone.now() + timedelta(days=1, minutes=1)
    with patch("fleet.operations.site_stages.timezone.now", lambda: ahead):
        yield


def _stage(site: Site) -> str:
    return Site.objects.get(pk=site.pk).stage


def test_the_page_asks_and_shows_what_is_open_and_changes_nothing():
    office = make_member()
    site = make_site(office)
    make_owner(office, site, name="Graça Exemplo")
    record_check(actor=office, site=site, title="Isolator labelled", finding="problem")
    record_check(actor=office, site=site, title="Lid closed", finding="done")
    page = _client(office).get(f"/sites/{site.written_code}/hand-over")
    assert page.status_code == 200
    told = {str(point.title): str(point.sentence) for point in page.context["open"]}
    assert told == {
        "What stands there": "Nothing is registered there yet.",
        "Isolator labelled": "Problem found",
        "Graça Exemplo": "Not invited yet.",
        "Graça Exemplo: Writing to the owner about this site": "Not answered",
        "Graça Exemplo: Processing the site's measurements": "Not answered",
        "Graça Exemplo: Joining the system to the home network": "Not answered",
    }
    assert b"Hand over with 6 points open" in page.content
    assert _stage(site) == Stage.PLANNED


def test_it_is_pressed_seen_on_the_list_and_taken_back_by_the_same_member():
    office = make_member()
    site = make_site(office)
    client = _client(office)
    page = client.post(f"/sites/{site.written_code}/hand-over", follow=True)
    assert b"You can take that back within a day" in page.content
    assert "Handed over" in client.get("/sites/").content.decode()
    page = client.post(f"/sites/{site.written_code}/hand-over/take-back", follow=True)
    assert _stage(site) == Stage.PLANNED
    years = page.content.decode().split('id="years"')[1]
    assert "Handover taken back" in years
    assert "Site handed over" in years
    assert "Take the handover back" not in page.content.decode()
    assert Site.objects.get(pk=site.pk).handed_over_at is None


def test_it_goes_back_to_how_far_the_site_was():
    office = make_member()
    for stage in (Stage.PLANNED, Stage.INSTALLED):
        site = make_site(office)
        Site.objects.filter(pk=site.pk).update(stage=stage)
        hand_over_site(actor=office, site=site)
        take_back_handover(actor=office, site=site)
        assert (_stage(site), site.stage) == (stage, stage)


def test_another_member_does_not_take_it_back_and_after_a_day_only_an_administrator_does():
    office = make_member(make_company(), Role.OFFICE)
    other, administrator = make_member(office.company, Role.OFFICE), make_member(office.company, Role.ADMINISTRATOR)
    site = make_site(office)
    hand_over_site(actor=office, site=site)
    assert b"Take the handover back" not in _client(other).get(f"/sites/{site.written_code}/").content
    with pytest.raises(NotAllowed):
        take_back_handover(actor=other, site=site)
    with a_day_later():
        page = _client(office).get(f"/sites/{site.written_code}/").content
        assert b"Take the handover back" not in page
        assert b"now an administrator does" in page
        with pytest.raises(NotAllowed):
            take_back_handover(actor=office, site=site)
        assert site.stage == Stage.HANDED_OVER
        take_back_handover(actor=administrator, site=site)
    assert _stage(site) == Stage.PLANNED
    assert list(AuditEntry.objects.filter(site=site).order_by("pk").values_list("act", flat=True)) == [
        "register_site", "hand_over_site", "take_back_handover",
    ]  # fmt: skip


def test_there_is_nothing_to_take_back_where_nothing_was_handed_over_or_it_was_taken_back():
    office = make_member()
    site = make_site(office)
    with pytest.raises(NotHandedOver):
        take_back_handover(actor=office, site=site)
    hand_over_site(actor=office, site=site)
    take_back_handover(actor=office, site=site)
    with pytest.raises(NotHandedOver):
        take_back_handover(actor=office, site=site)
