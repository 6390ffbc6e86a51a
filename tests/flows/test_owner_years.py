"""An owner's later years: taking a permission back, and standing before the plate on the wall."""

import pytest
from django.test import Client

from fleet.models import Member, Role, Site
from tests import factories
from tests.flows.outside import ADMINISTRATOR, accepts, colleague, new_company, office
from tests.walk.person import Person

pytestmark = [pytest.mark.slow, pytest.mark.django_db]

STREET = "Rua do Sobreiro Torto"
PHONE = "+351 900000123"
MEASURES = "May Telhado Claro see what it measures"


@pytest.fixture
def site() -> Site:
    """One of two sites of a company that was just started."""
    new_company()
    leonor = Member.objects.get(user__email=ADMINISTRATOR)
    leonor.company.phone = PHONE
    leonor.company.save()
    factories.make_site(leonor, street="Beco da Adega Funda", house_number="1")
    return factories.make_site(leonor, street=STREET, house_number="5")


@pytest.fixture
def graca(site: Site) -> Person:
    """The owner, who accepted and allowed measurements and nothing else."""
    leonor = Member.objects.get(user__email=ADMINISTRATOR)
    owner = factories.make_owner(leonor, site, name="Graça Mondeleira", email="graca@example.net")
    _invitation, token = factories.make_invitation(leonor, site, owner)
    return accepts(Person().open(f"/welcome/{token}"), {f"1. {MEASURES}": "Yes"})


def test_an_owner_takes_a_permission_back(site: Site, graca: Person):
    duarte = office().find("mondeleira").follow(STREET)
    assert site.written_code in duarte.title
    duarte.sees_all("Graça Mondeleira").sees_none("withdrawn")
    graca.open("/").press("No longer", within="Measurements")
    again = office_again().find("mondeleira").follow(STREET)
    assert site.written_code in again.title
    again.sees_all("withdrawn")


def test_the_plate_on_the_wall(site: Site, graca: Person):
    plate = f"/s/{site.written_code}"
    graca.open(plate).sees_all(STREET, site.written_code)

    passer_by = Person(Client()).open(plate).sees_all("Sign in", "emergency number")
    assert passer_by.status == 200
    passer_by.sees_none(STREET, "Mondeleira", "Telhado Claro", PHONE)
    unknown = Person(Client()).open("/s/0000-0000")
    assert (unknown.status, unknown.sees) == (200, passer_by.sees)

    office().open(f"/sites/{site.written_code}/").follow("Plate").press("Make the plate ready to print")
    passer_by = Person(Client()).open(plate).sees_all("Telhado Claro", PHONE)
    passer_by.sees_none(STREET, "Mondeleira", site.written_code)
    passer_by.follow("Sign in").sees_all("Password")


def office_again() -> Person:
    """Somebody else of the office."""
    return colleague(Role.OFFICE, "sara@example.org")
