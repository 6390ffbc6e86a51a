from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.utils import timezone

from fleet.models import Device, ExpectedDevice, Kind, Placement, Role
from fleet.operations.placements import (
    AlreadyHere,
    NewDeviceNotLinked,
    NotAnInverter,
    NotStanding,
    lead_inverter,
    move_device,
    retire_device,
    swap_device,
    undo_placement,
)
from fleet.operations.refusals import NotAllowed
from fleet.operations.scans import record_scan
from fleet.operations.site_guard import UnknownSite
from fleet.operations.site_stages import DevicesStillThere, retire_site
from tests.factories import NOON, make_capture, make_company, make_member, make_site

pytestmark = pytest.mark.django_db


def linked(actor, site, raw=""):
    scan = record_scan(actor=actor, capture=make_capture(site, raw)).scan
    return scan.placement


def test_moving_closes_one_placement_and_opens_another_at_the_same_moment():
    office = make_member()
    placement, second = linked(office, make_site(office)), make_site(office)
    moved = move_device(actor=office, device=placement.device, to_site=second, at=NOON + timedelta(days=3))
    placement.refresh_from_db()
    assert (placement.ended, placement.until) == ("moved", moved.since)
    assert (moved.site, moved.until) == (second, None)


def test_moving_to_where_it_stands_or_to_a_foreign_site_changes_nothing():
    office, stranger = make_member(), make_member(make_company("Other"))
    placement = linked(office, make_site(office))
    with pytest.raises(AlreadyHere):
        move_device(actor=office, device=placement.device, to_site=placement.site)
    with pytest.raises(UnknownSite):
        move_device(actor=office, device=placement.device, to_site=make_site(stranger))
    assert Placement.objects.filter(until__isnull=True).get() == placement


def test_the_database_refuses_a_second_open_placement():
    office = make_member()
    placement, other = linked(office, make_site(office)), make_site(office)
    with pytest.raises(IntegrityError), transaction.atomic():
        Placement.objects.create(company=office.company, device=placement.device, site=other, since=timezone.now())


def test_a_swap_names_what_it_replaces_and_takes_over_its_place():
    office = make_member()
    site = make_site(office)
    old = linked(office, site)
    Placement.objects.filter(pk=old.pk).update(position="cellar, left")
    answer = swap_device(actor=office, old=old, capture=make_capture(site, scanned_at=NOON + timedelta(days=90)))
    new = Placement.objects.get(scans=answer.scan)
    old.refresh_from_db()
    assert (old.ended, old.until) == ("swapped", NOON + timedelta(days=90))
    assert (new.replaces, new.position, new.since) == (old, "cellar, left", old.until)


def test_a_swap_with_a_bad_label_leaves_the_old_device_in_place():
    office = make_member()
    site = make_site(office)
    old = linked(office, site)
    with pytest.raises(NewDeviceNotLinked) as refused:
        swap_device(actor=office, old=old, capture=make_capture(site, "010952012345678921SN1"))
    old.refresh_from_db()
    assert old.until is None
    assert refused.value.facts["answer"]["reason"] == "bad_check_digit"


def test_a_retired_device_stands_nowhere_and_is_not_linked_again():
    office = make_member()
    site = make_site(office)
    placement = linked(office, site, "010952012345678821SN7")
    device = retire_device(actor=office, device=placement.device)
    placement.refresh_from_db()
    assert placement.ended == "retired"
    answer = record_scan(actor=office, capture=make_capture(site, "010952012345678821SN7")).document
    assert (answer["outcome"], answer["reason"]) == ("refused", "device_retired")
    with pytest.raises(NotStanding):
        retire_device(actor=office, device=device)


def test_field_members_retire_nothing():
    office = make_member(make_company(field_sight="all"))
    field = make_member(office.company, Role.FIELD)
    placement = linked(office, make_site(office))
    with pytest.raises(NotAllowed):
        retire_device(actor=field, device=placement.device)
    with pytest.raises(NotAllowed):
        retire_site(actor=field, site=placement.site)


def test_a_site_with_devices_is_not_retired():
    office = make_member()
    placement = linked(office, make_site(office))
    with pytest.raises(DevicesStillThere):
        retire_site(actor=office, site=placement.site)
    placement.site.refresh_from_db()
    assert placement.site.stage == "installed"


def test_undoing_a_link_is_free_for_a_day_and_then_an_administrators_act():
    office = make_member()
    fresh = linked(office, make_site(office))
    Placement.objects.filter(pk=fresh.pk).update(since=timezone.now() - timedelta(hours=20))
    fresh.refresh_from_db()
    assert undo_placement(actor=office, placement=fresh).ended == "undone"
    late = linked(office, make_site(office))
    with pytest.raises(NotAllowed):
        undo_placement(actor=office, placement=late)
    assert undo_placement(actor=make_member(office.company, Role.ADMINISTRATOR), placement=late).until == late.since


def test_one_inverter_leads_and_the_others_follow():
    office = make_member()
    site = make_site(office)
    placements = [linked(office, site) for _ in range(3)]
    Device.objects.exclude(pk=placements[2].device_id).update(kind=Kind.INVERTER)
    lead_inverter(actor=office, placement=placements[0])
    lead_inverter(actor=office, placement=placements[1])
    roles = dict(Placement.objects.values_list("pk", "bus_role"))
    assert [roles[placement.pk] for placement in placements] == ["follows", "leads", ""]
    with pytest.raises(NotAnInverter):
        lead_inverter(actor=office, placement=placements[2])


def test_a_link_fulfils_the_plan_by_serial_first():
    office = make_member()
    site = make_site(office)
    expected = ExpectedDevice.objects.create(company=office.company, site=site, kind=Kind.BATTERY, serial="SN7")
    placement = linked(office, site, "010952012345678821SN7")
    expected.refresh_from_db()
    assert expected.fulfilled_by == placement
