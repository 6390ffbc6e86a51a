"""Whoever scans the plate on a wall: owners and staff get to the site, everybody else the same calm page."""

import re
from random import Random

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.emergency import emergency_number
from fleet.labels.sitecode import new_site_code
from fleet.models import Company, Member, Role, Site, SiteCodeAlias, Stage
from fleet.operations.plates import print_plate
from onboarding.models import Owner
from onboarding.views.plate_link import SCANS
from tests import rows

pytestmark = pytest.mark.django_db


@pytest.fixture
def company() -> Company:
    return rows.make_company(
        "Telhado Claro", phone="+351 970 000 200", phone_hours="Monday to Friday, 8:30 to 18:00", country="PT"
    )


@pytest.fixture
def office(company: Company) -> Member:
    return rows.make_member(Role.OFFICE, company)


@pytest.fixture
def site(company: Company) -> Site:
    return rows.make_site(company, street="Travessa dos Medronheiros", town="Monte Alvo")


@pytest.fixture
def owner(company: Company, site: Site) -> Owner:
    owner = rows.make_owner(company, user=rows.make_user())
    rows.own(owner, site)
    return owner


def signed_in(user) -> Client:
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def without_code(answer, code: str) -> str:
    """The page but for its own address, which the sign-in link repeats, and the form's token."""
    page = answer.content.decode().replace(f"/s/{code}", "/s/CODE")
    return re.sub(r'name="csrfmiddlewaretoken" value="\w+"', "", page)


def codes_of_no_plate(site: Site) -> dict[str, str]:
    """A code of each sort that strangers may type, none of a printed plate."""
    theirs = rows.make_site(rows.make_company("Another company", phone="+351 970 000 999"))
    retired = rows.make_site(site.company, stage=Stage.RETIRED)
    given = set(Site.objects.values_list("code", flat=True))
    random = Random(7)
    free = next(code for code in (new_site_code(random) for _try in range(9)) if code not in given)
    check = next(symbol for symbol in "0123456789" if symbol != site.code[-1])
    return {
        "given": site.written_code,
        "as spoken": site.code.lower(),
        "not given": free,
        "wrong check symbol": site.code[:-1] + check,
        "retired": retired.written_code,
        "of another company": theirs.written_code,
        "no code at all": "hello",
        "long": "A" * 300,
        "not ascii": "ÄÖÜ☀",
    }


def test_every_code_without_a_printed_plate_gets_the_same_page_by_the_same_queries(site: Site):
    pages, queries, statuses = {}, {}, set()
    for name, code in codes_of_no_plate(site).items():
        with CaptureQueriesContext(
            connection,
        ) as made:
            answer = Client().get(f"/s/{code}")
        statuses.add(answer.status_code)
        pages[name] = without_code(answer, answer.request["PATH_INFO"].removeprefix("/s/"))
        pages[name] = re.sub(r"next=/s/[^\"]+", "next=CODE", pages[name])
        queries[name] = [re.sub(r"'[^']*'|%s", "?", each["sql"]) for each in made.captured_queries]
    assert statuses == {200}
    assert set(pages.values()) == {pages["given"]}
    assert all(each == queries["given"] for each in queries.values())
    assert len(queries["given"]) == 1
    page = pages["given"]
    assert 'href="tel:112"' in page
    assert "Telhado Claro" not in page
    assert "+351" not in page


def test_a_printed_plate_names_who_looks_after_it_and_nothing_of_the_house(site: Site, owner: Owner, office: Member):
    print_plate(actor=office, site=site)
    answer = Client().get(f"/s/{site.written_code}")
    page = answer.content.decode()
    assert answer.status_code == 200
    assert "Telhado Claro looks after it" in page
    assert 'href="tel:+351970000200"' in page
    assert "Monday to Friday, 8:30 to 18:00" in page
    for hidden in ("Medronheiros", "Monte Alvo", owner.name, owner.email, "stage", site.get_stage_display()):
        assert hidden not in page
    assert answer.headers["Cache-Control"].count("no-store")
    assert page.count(site.written_code) == page.count(f"next=/s/{site.written_code}") == 1
    other = Client().get(f"/s/{rows.make_site(site.company).written_code}").content.decode()
    assert "Telhado Claro" not in other


def test_the_emergency_number_is_the_companys_countrys(site: Site, office: Member):
    print_plate(actor=office, site=site)
    for country, number in (("PT", "112"), ("GB", "999"), ("US", "911")):
        Company.objects.filter(pk=site.company_id).update(country=country)
        assert f'href="tel:{number}"' in Client().get(f"/s/{site.code}").content.decode()
    Company.objects.filter(pk=site.company_id).update(country="ZZ")
    page = Client().get(f"/s/{site.code}").content.decode()
    assert "Call the emergency number" in page
    assert "call-emergency" not in page


def test_every_member_state_of_the_union_is_reached_by_112():
    union = "AT BE BG CY CZ DE DK EE ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK".split()
    assert len(union) == 27
    assert {emergency_number(country) for country in union} == {"112"}


def test_the_owner_gets_to_their_site_also_by_signing_in_from_the_plate(site: Site, owner: Owner):
    address = f"/s/{site.written_code}"
    assert signed_in(owner.user).get(address).headers["Location"] == f"/mine/{site.written_code}/"
    assert owner.user
    stranger = Client()
    sign_in = re.search(r'href="(/accounts/login/[^"]+)"', stranger.get(address).content.decode())
    assert sign_in
    form = {"login": owner.user.email, "password": rows.PASSWORD, "next": sign_in.group(1).partition("next=")[2]}
    arrived = stranger.post("/accounts/login/", form, follow=True)
    assert arrived.redirect_chain[-1][0] == f"/mine/{site.written_code}/"
    assert "Travessa dos Medronheiros" in arrived.content.decode()


def test_a_merged_sites_old_plate_leads_the_owner_on(site: Site, owner: Owner):
    old = new_site_code(Random(11))
    SiteCodeAlias.objects.create(company=site.company, site=site, code=old)
    assert signed_in(owner.user).get(f"/s/{old}").headers["Location"] == f"/mine/{site.written_code}/"


def test_staff_get_to_the_sites_page_where_they_may_see_it(site: Site, office: Member):
    address = f"/s/{site.written_code}"
    assert signed_in(office.user).get(address).headers["Location"] == f"/sites/{site.written_code}/"
    unassigned = rows.make_member(Role.FIELD, site.company)
    assert unassigned.company.policy.field_sight == "assigned"
    shown = signed_in(unassigned.user).get(address)
    assert shown.status_code == 200
    assert "no site opens for this account" in shown.content.decode()


@pytest.mark.parametrize("who", ["other owner", "former owner", "outsider", "other company"])
def test_anybody_elses_account_learns_no_more_than_a_stranger(who: str, site: Site, owner: Owner):
    theirs = rows.make_company("Another company")
    if who == "other company":
        user = rows.make_member(Role.ADMINISTRATOR, theirs).user
    else:
        user = rows.make_user()
        if who == "other owner":
            rows.own(rows.make_owner(theirs, user=user), rows.make_site(theirs))
        elif who == "former owner":
            former = rows.make_owner(site.company, user=user)
            rows.own(former, site, until=rows.LONG_AGO)
    client = signed_in(user)
    shown = client.get(f"/s/{site.written_code}")
    unknown = client.get("/s/0000-0000")
    assert shown.status_code == unknown.status_code == 200
    assert without_code(shown, site.written_code) == without_code(unknown, "0000-0000")


def test_an_address_that_asks_too_often_reads_the_emergency_alone(site: Site, owner: Owner, office: Member):
    print_plate(actor=office, site=site)
    for _scan in range(SCANS):
        assert Client().get("/s/0000-0000", REMOTE_ADDR="192.0.2.7").status_code == 200
    shown = Client().get(f"/s/{site.written_code}", REMOTE_ADDR="192.0.2.7")
    assert shown.status_code == 429
    assert 'href="tel:112"' in shown.content.decode()
    assert "Telhado Claro" not in shown.content.decode()
    assert Client().get(f"/s/{site.written_code}", REMOTE_ADDR="192.0.2.8").status_code == 200
