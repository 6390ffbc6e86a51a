"""My site: who looks after it first, what stands there, what was allowed; the sale of the house; former owners."""

import re
from datetime import date, timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import AuditEntry, Company, Kind, Member, Role, Site
from fleet.operations.measurement_pages import set_measurement_page
from onboarding.models import ConsentEntry, ConsentStanding, Invitation, Owner, Ownership, SaleReport
from onboarding.operations.acceptance import accept_invitation
from onboarding.operations.endings import end_due_permissions
from onboarding.operations.owners import end_ownership
from tests import rows
from tests.factories import PASSWORD, make_company, make_invitation, make_member, make_owner, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def company() -> Company:
    company = make_company()
    Company.objects.filter(pk=company.pk).update(
        phone="+351 970 000 200", phone_hours="Monday to Friday, 8:30 to 18:00"
    )
    return company


@pytest.fixture
def office(company: Company) -> Member:
    return make_member(company, Role.ADMINISTRATOR)


@pytest.fixture
def site(office: Member) -> Site:
    return make_site(office, street="Travessa dos Medronheiros", house_number="11", town="Monte Alvo")


@pytest.fixture
def owner(office: Member, site: Site) -> Owner:
    """An owner who accepted with one yes and two noes."""
    owner = make_owner(office, site, name="Joaquim Serradela", email="j.serradela@example.com")
    _invitation, token = make_invitation(office, site, owner)
    choices = {"monitoring": True, "home_network": False, "contact": False}
    accept_invitation(token=token, password=PASSWORD, choices=choices)
    owner.refresh_from_db()
    return owner


def signed_in(person: Owner | Member) -> Client:
    client = Client()
    assert person.user
    client.force_login(person.user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def my_page(person: Owner, site: Site) -> str:
    answer = signed_in(person).get(f"/mine/{site.written_code}/")
    assert answer.status_code == 200
    return answer.content.decode()


def words(page: str) -> str:
    """The page's text as it is read."""
    return " ".join(re.sub(r"<[^>]+>", " ", page.partition("<main")[2].partition("</main>")[0]).split())


def test_who_looks_after_it_comes_first_then_what_stands_there_then_what_was_allowed(site: Site, owner: Owner):
    page = my_page(owner, site)
    headings = re.findall(r"<h2[^>]*>([^<]+)</h2>", page)
    assert headings[:3] == ["Telhado Claro looks after it", "What stands there", "What you allowed"]
    assert page.index('href="tel:+351970000200"') < page.index('href="tel:112"') < page.index("What stands there")
    assert "Monday to Friday, 8:30 to 18:00" in page
    assert "papers" not in page.lower()


def test_the_page_speaks_to_the_reader_with_the_full_text_behind_one_tap(site: Site, owner: Owner):
    today = timezone.localtime(timezone.now(), site.zone)
    day = f"{today.day} {today:%b %Y}"
    read = words(my_page(owner, site))
    assert f"Measurements: yes you said yes on {day}" in read
    assert f"Home network: no you said no on {day}" in read
    assert "The owner, signed in" not in read
    page = my_page(owner, site)
    hidden = page.index("may receive the measurements of my solar system")
    assert page.rfind("<details", 0, hidden) > page.rfind("</details>", 0, hidden)


def test_what_staff_noted_is_not_put_into_the_owners_mouth(site: Site, office: Member):
    user = rows.make_user()
    owner = rows.make_owner(site.company, user=user)
    rows.own(owner, site)
    rows.make_consent(site, owner, "monitoring")
    read = words(my_page(owner, site))
    assert "Measurements: not answered it was noted on" in read
    assert "only your own answer counts" in read
    assert "Home network: not answered you have not answered yet" in read


@pytest.mark.parametrize("swept", [False, True], ids=["not swept yet", "swept"])
def test_a_yes_whose_time_is_over_is_neither_yes_nor_no_and_can_be_answered_anew(site: Site, owner: Owner, swept: bool):
    yesterday = timezone.now() - timedelta(days=1)
    ConsentStanding.objects.filter(owner=owner, purpose="monitoring").update(ends_at=yesterday)
    if swept:
        assert end_due_permissions() == 1
    read = words(my_page(owner, site))
    assert "Measurements: time is over, not answered anew your yes ran out on" in read
    offered = re.search(r'name="purpose" value="monitoring".*?</form>', my_page(owner, site), re.DOTALL)
    assert offered
    assert re.findall(r'name="answer" value="(\w+)"', offered[0]) == ["allow", "refuse"]
    signed_in(owner).post(f"/mine/{site.code}/answer", {"purpose": "monitoring", "answer": "allow"})
    assert "Measurements: yes you said yes on" in words(my_page(owner, site))


def test_a_yes_that_others_noted_is_not_called_the_owners_when_its_time_is_over(site: Site):
    user = rows.make_user()
    owner = rows.make_owner(site.company, user=user)
    rows.own(owner, site)
    rows.make_consent(site, owner, "monitoring")
    ConsentStanding.objects.filter(owner=owner).update(ends_at=timezone.now() - timedelta(days=1))
    read = words(my_page(owner, site))
    assert "Measurements: time is over, not answered anew the yes that was noted for you ran out on" in read
    assert "your yes" not in read


def test_devices_are_told_in_few_lines_and_each_maker_leads_to_its_measurements(
    site: Site, owner: Owner, office: Member
):
    model = rows.make_model(site.company, "Ribeira 5")
    for serial in ("SN-A-1", "SN-A-2"):
        rows.place(rows.make_device(site.company, serial, model=model, kind=Kind.INVERTER), site)
    page = my_page(owner, site)
    assert f"2 × Inverter , {model.maker.name} Ribeira 5" in words(page)
    assert "SN-A-1" in page
    assert "What it makes today" not in page
    set_measurement_page(actor=office, maker=model.maker.name, url="https://see.example.com/today")
    link = re.search(r'<a href="([^"]+)"[^>]*>What it makes today, on ([^<]+)’s page', my_page(owner, site))
    assert link
    assert link.groups() == ("https://see.example.com/today", model.maker.name)


@pytest.mark.parametrize(
    "url", ["http://see.example.com", "javascript:alert(1)", "ftp://see.example.com/", "see.example.com", "https://"]
)
def test_only_https_leads_owners_away(url: str, site: Site, office: Member):
    model = rows.make_model(site.company)
    page = reverse("fleet:measurement_pages")
    answer = signed_in(office).post(page, {"maker": model.maker.name, "url": url})
    assert answer.status_code == 422
    assert "begins with https://" in answer.content.decode()
    model.maker.refresh_from_db()
    assert model.maker.measurements_url == ""


def test_a_link_for_owners_can_be_taken_away_and_is_audited(site: Site, office: Member):
    model = rows.make_model(site.company)
    page = reverse("fleet:measurement_pages")
    for url in ("https://see.example.com/", ""):
        assert signed_in(office).post(page, {"maker": model.maker.name, "url": url}).status_code == 302
        model.maker.refresh_from_db()
        assert model.maker.measurements_url == url
    assert AuditEntry.objects.filter(act="set_measurement_page").count() == 2


def test_the_house_is_sold_in_two_steps_and_the_office_reads_it_in_two_places(site: Site, owner: Owner, office: Member):
    client, address, day = signed_in(owner), f"/mine/{site.written_code}/sold", date.today() + timedelta(days=3)
    asked = client.get(address).content.decode()
    assert re.search(r'<input type="date"[^>]*name="sold_on"', asked) or 'name="sold_on"' in asked
    assert "value=" not in re.findall(r'<input[^>]*name="sold_on"[^>]*>', asked)[0]
    shown = client.post(address, {"sold_on": day.isoformat(), "act": "day"})
    assert "Telhado Claro is told" in words(shown.content.decode())
    assert not SaleReport.objects.exists()
    client.post(address, {"sold_on": day.isoformat(), "act": "send"})
    assert SaleReport.objects.get().sold_on == day
    assert "Nothing has ended yet" in words(my_page(owner, site))
    desk = signed_in(office)
    for page in ("/", "/owners/sold/", f"/sites/{site.written_code}/"):
        assert "Joaquim Serradela" in words(desk.get(page).content.decode()), page
    assert "Owners who say that the house is sold" in words(desk.get("/").content.decode())
    assert Ownership.objects.get(owner=owner, site=site).until is None


def test_it_can_be_taken_back_until_the_office_acts(site: Site, owner: Owner, office: Member):
    client, address, today = signed_in(owner), f"/mine/{site.written_code}/sold", date.today().isoformat()
    client.post(address, {"sold_on": today, "act": "send"})
    again = client.post(address, {"sold_on": today, "act": "send"})
    assert (again.status_code, SaleReport.objects.count()) == (409, 1)
    taken = client.post(f"{address}/take-back", follow=True)
    assert "Everything stays as it was" in taken.content.decode()
    assert "Joaquim" not in words(signed_in(office).get("/owners/sold/").content.decode())
    client.post(address, {"sold_on": today, "act": "send"})
    end_ownership(actor=office, site=site, owner=owner)
    assert client.post(f"{address}/take-back").status_code == 404
    assert SaleReport.objects.exclude(settled_at=None).get().settled_by == office
    assert "Joaquim" not in words(signed_in(office).get("/owners/sold/").content.decode())


def test_the_office_keeps_an_owner_who_has_not_sold(site: Site, owner: Owner, office: Member):
    client = signed_in(owner)
    client.post(f"/mine/{site.written_code}/sold", {"sold_on": date.today().isoformat(), "act": "send"})
    keep = f"/sites/{site.written_code}/owners/{owner.public_id}/keep"
    told = signed_in(office).post(keep, follow=True)
    assert "stays an owner here" in told.content.decode()
    assert signed_in(office).post(keep, follow=True).content.decode().count("taken back, or somebody acted on it")
    assert "I have sold this house" in words(my_page(owner, site))
    assert Ownership.objects.get(owner=owner, site=site).until is None


@pytest.mark.parametrize("day", ["1999-01-01", "2099-01-01", "", "tomorrow"])
def test_days_on_which_no_house_passes_are_refused(day: str, site: Site, owner: Owner):
    client = signed_in(owner)
    answer = client.post(f"/mine/{site.written_code}/sold", {"sold_on": day, "act": "send"})
    assert answer.status_code == 422
    assert not SaleReport.objects.exists()


def test_somebody_else_sells_no_house_of_others(site: Site, owner: Owner, office: Member):
    for person in (office, rows.make_owner(site.company, user=rows.make_user())):
        for part in ("sold", "sold/take-back"):
            form = {"sold_on": date.today().isoformat(), "act": "send"}
            assert signed_in(person).post(f"/mine/{site.written_code}/{part}", form).status_code == 404
    assert not SaleReport.objects.exists()


def test_a_former_owner_reads_their_own_answers_and_nothing_of_the_house(site: Site, owner: Owner, office: Member):
    rows.place(rows.make_device(site.company, "SN-OF-THE-HOUSE"), site)
    end_ownership(actor=office, site=site, owner=owner)
    successor = make_owner(office, site, name="Teresa Alfazema", email="teresa@example.com")
    client = signed_in(owner)
    assert client.get("/mine/").headers["Location"] == f"/mine/{site.written_code}/"
    read = words(my_page(owner, site))
    assert "You owned this system until" in read
    for said in ("Measurements: yes", "Home network: no", "Measurements: ended"):
        assert said in read
    entries = ConsentEntry.objects.filter(site=site, owner=owner)
    pages = [f"/mine/{site.written_code}/", f"/mine/{site.written_code}/receipts/"]
    pages += [f"/mine/{site.written_code}/receipts/{entry.entry_id}/" for entry in entries]
    pages += [f"/mine/{site.written_code}/receipts/{entries[0].entry_id}.json", f"/mine/{site.written_code}/data.json"]
    for page in pages:
        answer = client.get(page)
        assert answer.status_code == 200, page
        for hidden in ("SN-OF-THE-HOUSE", successor.name, successor.email):
            assert hidden not in answer.content.decode(), page
    assert client.get(f"/s/{site.written_code}").status_code == 200  # the plate on the wall is not theirs any more


@pytest.mark.parametrize("part", ["answer", "about", "second-owner", "sold", "sold/take-back"])
def test_a_former_owner_does_nothing_at_the_house(part: str, site: Site, owner: Owner, office: Member):
    end_ownership(actor=office, site=site, owner=owner)
    before = ConsentEntry.objects.count()
    form = {"purpose": "monitoring", "answer": "allow", "sold_on": date.today().isoformat(), "act": "send"}
    assert signed_in(owner).post(f"/mine/{site.written_code}/{part}", form).status_code == 404
    assert ConsentEntry.objects.count() == before


def test_one_former_owner_reads_nothing_of_another(site: Site, owner: Owner, office: Member):
    other = rows.make_owner(site.company, user=rows.make_user())
    rows.own(other, site, until=timezone.now())
    entry = ConsentEntry.objects.filter(site=site, owner=owner).order_by("position")[0]
    client = signed_in(other)
    assert "Measurements: yes" not in words(client.get(f"/mine/{site.written_code}/").content.decode())
    assert client.get(f"/mine/{site.written_code}/receipts/{entry.entry_id}/").status_code == 404


def test_who_buys_the_house_back_is_its_owner_again(site: Site, owner: Owner, office: Member):
    end_ownership(actor=office, site=site, owner=owner)
    rows.own(owner, site)
    assert "What stands there" in my_page(owner, site)


def test_the_three_questions_are_asked_alike_and_open_counts_as_no(site: Site, office: Member):
    owner = make_owner(office, site, email="teresa@example.com")
    _invitation, token = make_invitation(office, site, owner)
    client, page = Client(), reverse("onboarding:welcome", args=[token])
    asked = client.post(page, {"act": "continue"}, follow=True).content.decode()
    assert re.findall(r"<h2>([^<]+)</h2></legend>", asked) == [
        "1. May Telhado Claro see what it measures?",
        "2. May it join your home network?",
        "3. May Telhado Claro write to you about it?",
    ]
    assert asked.count('type="radio"') == 6
    assert "checked" not in asked
    assert asked.index("What you leave open counts as no and is recorded as no.") < asked.index('value="accept"')
    refused = client.post(page, {"act": "accept", "password": "short", "monitoring": "yes", "contact": "no"})
    assert refused.status_code == 422
    kept = re.findall(r'<input[^>]*type="radio"[^>]*checked[^>]*>', refused.content.decode())
    assert [re.findall(r'name="(\w+)" value="(\w+)"', each)[0] for each in kept] == [
        ("monitoring", "yes"),
        ("contact", "no"),
    ]
    client.post(page, {"act": "accept", "password": PASSWORD, "monitoring": "yes", "contact": "no"})
    said = ConsentEntry.objects.filter(owner=owner, evidence="owner_online").values_list("purpose", "state")
    assert dict(said) == {"monitoring": "given", "home_network": "refused", "contact": "refused"}
    assert Invitation.objects.get(owner=owner).state == "accepted"
