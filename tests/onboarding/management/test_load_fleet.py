"""``load_fleet``: invented, the same every time, and sound in the database's own eyes."""

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction

from fleet.labels.sitecode import parse_site_code
from fleet.models import Company, Device, Placement, Site, SiteSummary
from onboarding.management.synthetic.catalogue import invent_catalogue
from onboarding.management.synthetic.fleet import Fleet
from onboarding.models import Owner, Ownership
from tests.factories import make_company

pytestmark = pytest.mark.django_db


def load(sites: int, companies: int) -> None:
    call_command("load_fleet", sites=sites, companies=companies, verbosity=0)


def test_it_makes_what_was_asked_for_and_its_keys_go_on():
    load(sites=25, companies=2)
    assert sorted(company.sites.count() for company in Company.objects.all()) == [12, 13]
    assert Device.objects.count() == Placement.objects.count() == 125
    assert Owner.objects.count() == Ownership.objects.count() == 25
    assert SiteSummary.objects.filter(device_count=5).exclude(owner_names="").count() == 25
    assert all(parse_site_code(site.code) == site.code for site in Site.objects.all())
    company = Company.objects.get(pk=Company.objects.order_by("pk").values("pk")[:1])
    again = Site.objects.create(company=company, code="0", street="x", town="y", time_zone="Europe/Lisbon")
    assert again.pk > 25
    connection.check_constraints()


def test_every_row_belongs_to_its_own_company():
    load(sites=20, companies=2)
    for placement in Placement.objects.select_related("site", "device", "device__model"):
        assert placement.company_id == placement.site.company_id == placement.device.company_id
        assert placement.device.model.company_id == placement.company_id
    for ownership in Ownership.objects.select_related("site", "owner"):
        assert ownership.company_id == ownership.site.company_id == ownership.owner.company_id


def test_a_second_load_stands_beside_the_first():
    load(sites=10, companies=1)
    load(sites=10, companies=1)
    assert Site.objects.count() == 20
    assert Company.objects.count() == 2


def test_the_same_seed_makes_the_same_fleet():
    def facts() -> list[object]:
        with transaction.atomic():
            company = make_company()
            invent_catalogue(company)
            Fleet(company, seed=7, taken=set()).load(5)
            found: list[object] = [
                list(Site.objects.order_by("pk").values_list("code", "street", "house_number", "town", "created_at")),
                list(Owner.objects.order_by("pk").values_list("name", "email", "phone")),
                list(Device.objects.order_by("pk").values_list("serial", "kind", "public_id")),
            ]
            transaction.set_rollback(True)
        return found

    assert facts() == facts()


@pytest.mark.parametrize(("sites", "companies"), [(0, 1), (5, 0), (2, 3)])
def test_what_cannot_be_shared_out_is_refused(sites: int, companies: int):
    with pytest.raises(CommandError, match="at least one"):
        load(sites, companies)
