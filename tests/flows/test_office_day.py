"""The telephone rings at the office: each caller's wish is done by the pages and checked on another page."""

import pytest
from pytest_django import Settings

from fleet.models import Member, Role, Site
from tests import factories
from tests.flows.outside import ADMINISTRATOR, SECRET, colleague, new_company, office, post_office, signs_in
from tests.walk.person import Person

pytestmark = [pytest.mark.slow, pytest.mark.django_db]

STREET = "Rua do Moinho Quieto"
OLD, NEW = "RB10-OLD4411", "RB10-NEW9902"


@pytest.fixture
def leonor() -> Member:
    """The administrator of a company that was just started."""
    new_company()
    return Member.objects.get(user__email=ADMINISTRATOR)


@pytest.fixture
def site(leonor: Member) -> Site:
    """A site in a street of which there is one, beside another in another street."""
    factories.make_site(leonor, street="Travessa do Poço Velho", house_number="3")
    return factories.make_site(leonor, street=STREET, house_number="12")


def _places(person: Person, site: Site, kind: str, serial: str) -> None:
    person.open(f"/sites/{site.written_code}/").follow("Place by hand")
    person.send("Place it", {"Kind": kind, "Serial number": serial})


@pytest.mark.django_db(transaction=True)
def test_a_scrap_on_the_telephone_to_the_invitation_sent_again(leonor: Member, site: Site, settings: Settings):
    owner = factories.make_owner(leonor, site, name="Rui Tordeleiro", email="rui.tordelero@example.net")
    with post_office(settings) as post:
        factories.make_invitation(leonor, site, owner)
        duarte = office()
        duarte.find("tordelei").follow(STREET)
        assert site.written_code in duarte.title
        duarte.sees_all("Rui Tordeleiro", "rui.tordelero@example.net")
        duarte.follow("Correct", within="Rui Tordeleiro")
        duarte.send("Save", {"E-mail address": "rui.tordeleiro@example.net"})
        duarte.find("rui.tordeleiro@example.net").follow(STREET)
        assert site.written_code in duarte.title
        sent_before = len(post.letters("rui.tordeleiro@example.net"))
        duarte.press("Send again", within="Rui Tordeleiro")
        letters = post.letters("rui.tordeleiro@example.net")
        assert len(letters) == sent_before + 1
        assert not any("/welcome/" in letter for letter in post.letters("rui.tordelero@example.net"))
        rui = Person().open(post.link("rui.tordeleiro@example.net", "welcome"))
        rui.sees_all("Telhado Claro", STREET)


def test_a_warranty_swap_with_a_scratched_label(leonor: Member, site: Site):
    duarte = office()
    _places(duarte, site, "Inverter", OLD)
    duarte.find("OLD4411").follow(STREET)
    assert site.written_code in duarte.title
    duarte.follow("Swap", within=OLD).send("Read it and swap", {"Or what the label says": NEW})
    duarte.sees_all(NEW)
    duarte.press("It is right: swap")

    someone = colleague(Role.OFFICE, "sara@example.org").find(NEW).follow(STREET)
    assert site.written_code in someone.title
    someone.follow(NEW)
    assert NEW in someone.title
    someone.sees_all("In place", site.written_code, f"replaces {OLD}")
    someone.find(OLD).follow(STREET)
    assert site.written_code in someone.title
    someone.follow(OLD).sees_all(OLD, f"replaced by {NEW}", "Stands nowhere")


def test_a_house_with_thirty_optimisers(leonor: Member, site: Site):
    duarte = office()
    stands = [
        ("Inverter", "INV-1"),
        ("Battery", "BAT-1"),
        ("Communication module", "COM-1"),
        ("Backup switch", "SWI-1"),
    ]
    stands += [("Optimiser", f"OPT-{number:02d}") for number in range(1, 31)]
    for kind, serial in stands:
        _places(duarte, site, kind, serial)
    duarte.open("/").follow("Sites").sees_all("34 devices")
    someone = colleague(Role.OFFICE, "sara@example.org").find("OPT-17").follow(STREET)
    assert site.written_code in someone.title
    someone.sees_all(*(serial for _kind, serial in stands))
    for serial in ("INV-1", "BAT-1", "COM-1", "SWI-1", "OPT-01", "OPT-30"):
        someone.find(serial).follow(STREET).follow(serial)
        assert someone.title.startswith(serial)
        someone.sees_all(site.written_code)


def test_a_member_who_leaves_is_out_and_their_sites_are_another_s(leonor: Member, site: Site):
    boss = _as(leonor)
    ines, vasco = colleague(Role.FIELD, "ines@example.org"), colleague(Role.FIELD, "vasco@example.org")
    boss.find(STREET).follow(STREET).send("Assign", {"Member": "Ines"})
    ines.open("/").find(STREET).follow(STREET).sees_all(site.written_code)
    vasco.find(STREET).sees_none(site.written_code)

    boss.open("/").follow("Members").follow("Ines")
    boss.send("Let Ines go", {"Hand their sites to": "Vasco"})
    boss.open("/").follow("Members").sees_all("1 former member")
    ines.open("/").sees_all("Sign in")
    ines.sees_none(STREET)
    refused = signs_in("ines@example.org", SECRET).open(f"/sites/{site.written_code}/")
    assert refused.status == 404
    vasco.find(STREET).follow(STREET)
    assert site.written_code in vasco.title


def test_a_site_that_is_retired_stays_readable_and_takes_nothing_more(leonor: Member, site: Site):
    boss = _as(leonor)
    _places(boss, site, "Inverter", OLD)
    boss.open(f"/sites/{site.written_code}/").follow(OLD).press("Retire it")
    boss.find(STREET).follow(STREET).press("Retire this site")

    duarte = office()
    duarte.find(OLD).follow(STREET)
    assert site.written_code in duarte.title
    duarte.sees_all("Retired")
    for words in ("Scan a label", "Place by hand", "Register an owner", "Edit"):
        with pytest.raises(LookupError):
            duarte.follow(words)
    duarte.open(f"/sites/{site.written_code}/by-hand")
    if duarte.status == 200:
        duarte.send("Place it", {"Kind": "Battery", "Serial number": "LATE-1"})
    colleague(Role.OFFICE, "sara@example.org").find("LATE-1").sees_none(STREET)


def _as(member: Member) -> Person:
    person = Person()
    person.client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    return person.open("/")
