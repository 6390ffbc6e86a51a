"""Registering a site with its owner by one press, and being told what the register knows already."""

import pytest
from django.test import Client

from fleet.models import Member, Role, Site
from onboarding.models import Owner, Ownership
from tests import rows

pytestmark = pytest.mark.django_db
SITE = {
    "street": "Travessa dos Medronheiros",
    "house_number": "13",
    "town": "Monte Alvo",
    "country": "PT",
    "use": "home",
}
OWNER = {
    "owner-name": "Beatriz Alvorada", "owner-phone": "+351 970 000 114", "owner-email": "b.alvorada@example.com",
    "owner-kind": "person", "owner-language": "en",
}  # fmt: skip
NOBODY = {"owner-kind": "person", "owner-language": "en"}


@pytest.fixture
def office() -> Member:
    return rows.make_member(Role.OFFICE)


@pytest.fixture
def client(office: Member) -> Client:
    return signed_in(office)


def signed_in(member: Member) -> Client:
    client = Client()
    client.force_login(member.user)
    return client


def text_of(client: Client, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def told(client: Client, about: str, **typed: str) -> str:
    answer = client.post(f"/sites/new/known?about={about}", typed)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


@pytest.mark.parametrize("role", [Role.OFFICE, Role.FIELD])
def test_one_press_makes_site_owner_number_and_plan(office, role):
    client = signed_in(rows.make_member(role, office.company))
    typed = (
        SITE | OWNER | {"order": "A-70003012", "place": "38,5713; -7,9136", "plan-inverter": "1", "plan-optimiser": "0"}
    )
    answer = client.post("/sites/new", typed)
    assert answer.status_code == 302
    page = text_of(client, answer.headers["Location"])
    for shown in (
        "Travessa dos Medronheiros 13",
        "Beatriz Alvorada",
        "A-70003012",
        "38.5713, -7.9136",
        "none expected",
    ):
        assert shown in page
    code = Site.objects.get().written_code
    for scrap in ("Alvorada", "A-70003012", "970000114", "Medronheiros 13"):
        assert code in text_of(client, f"/search?q={scrap.replace(' ', '+')}")


def test_street_and_town_are_enough(client):
    assert client.post("/sites/new", SITE | NOBODY).status_code == 302
    assert not Owner.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "part"),
    [
        ({"owner-email": "no address"}, "owner_form"),
        ({"owner-name": ""}, "owner_form"),
        ({"order": "A" * 81}, "numbers"),
        ({"plan-battery": "many"}, "plan_form"),
        ({"place": "https://short.example/aB3dE"}, "form"),
        ({"country": "Portugal"}, "form"),
        ({"street": ""}, "form"),
    ],
)
def test_one_fault_keeps_everything_out_and_the_typed_text_in(client, wrong, part):
    answer = client.post("/sites/new", SITE | OWNER | {"order": "A-1"} | wrong)
    assert answer.status_code == 422
    assert answer.context[part].errors
    assert "Monte Alvo" in answer.content.decode()
    assert not Site.objects.exists()
    assert not Owner.objects.exists()


def test_an_owner_whom_the_company_knows_is_offered_and_takes_the_new_site_too(client, office):
    known = rows.make_owner(office.company, "b.alvorada@example.com", name="Beatriz Alvorada")
    answer = client.post("/sites/new", SITE | OWNER)
    assert answer.status_code == 409
    assert not Site.objects.exists()
    assert f'name="attach" value="{known.public_id}"' in answer.content.decode()
    answer = client.post("/sites/new", SITE | OWNER | {"attach": str(known.public_id)})
    assert answer.status_code == 302
    assert Ownership.objects.get().owner == known
    assert Owner.objects.count() == 1


def test_a_field_member_is_not_told_who_has_the_address(office):
    known = rows.make_owner(office.company, "b.alvorada@example.com", name="Somebody Else")
    client = signed_in(rows.make_member(Role.FIELD, office.company))
    answer = client.post("/sites/new", SITE | OWNER)
    assert answer.status_code == 422
    assert "Somebody Else" not in answer.content.decode()
    assert client.post("/sites/new", SITE | OWNER | {"attach": str(known.public_id)}).status_code == 422
    assert not Site.objects.exists()


def test_what_is_known_is_said_while_typing_with_the_site_named(client):
    assert client.post("/sites/new", SITE | OWNER | {"order": "A-70003012"}).status_code == 302
    site = Site.objects.get()
    link = f'href="/sites/{site.written_code}/"'
    assert link in told(client, "address", street="travessa dos medronheiros", house_number="13")
    assert link in told(client, "order", order="a-70003012")
    assert link in told(client, "owner", **{"owner-email": "B.Alvorada@example.com"})
    assert link in told(client, "owner", **{"owner-name": "beatriz alvorada"})
    assert link in told(client, "owner", **{"owner-phone": "+351 970 000 114"})


@pytest.mark.parametrize(
    ("about", "typed"),
    [
        ("address", {"street": "Travessa dos Medronheiros", "house_number": "11"}),
        ("address", {"street": "Travessa dos Medronheiros", "house_number": ""}),
        ("address", {"street": "Travessa dos", "house_number": "13"}),
        ("owner", {"owner-name": "Beatriz"}),
        ("owner", {"owner-name": "Beatriz Outra"}),
        ("owner", {"owner-phone": "970"}),
        ("order", {"order": "A-7000"}),
        ("order", {"order": ""}),
        ("nothing", {"street": "Travessa dos Medronheiros", "house_number": "13"}),
    ],
)
def test_what_is_another_ones_is_not_said(client, about, typed):
    assert client.post("/sites/new", SITE | OWNER | {"order": "A-70003012"}).status_code == 302
    assert told(client, about, **typed) == ""


def test_only_visible_sites_are_named(client, office):
    assert client.post("/sites/new", SITE | OWNER | {"order": "A-70003012"}).status_code == 302
    for other in (rows.make_member(Role.FIELD, office.company), rows.make_member(Role.OFFICE)):
        stranger = signed_in(other)
        assert told(stranger, "address", **SITE) == ""
        assert told(stranger, "owner", **OWNER) == ""
        assert told(stranger, "order", order="A-70003012") == ""


def test_a_pasted_place_is_said_as_it_is_understood(client):
    def read(place: str) -> str:
        answer = client.post("/sites/place", {"place": place})
        return str(answer.content, "utf-8")

    assert "38.5713, -7.9136" in read("https://maps.example/@38.5713,-7.9136,17z")
    assert "No coordinates were found" in read("https://short.example/x")
    assert read("").strip() == ""


def test_the_edit_page_shows_the_place_as_it_takes_it(client, office):
    site = rows.make_site(office.company, latitude="38.571300", longitude="-7.913600")
    form = client.get(f"/sites/{site.code}/edit").context["form"]
    assert form.initial["place"] == "38.5713, -7.9136"
    typed = SITE | {"version": 1, "place": form.initial["place"]}
    assert client.post(f"/sites/{site.code}/edit", typed).status_code == 302
    site.refresh_from_db()
    assert (str(site.latitude), str(site.longitude)) == ("38.571300", "-7.913600")


def test_countries_are_offered_by_name_with_the_companys_own_first_chosen(client):
    page = text_of(client, "/sites/new")
    assert '<option value="PT" selected>Portugal</option>' in page
    assert page.index(">Afghanistan<") < page.index(">Portugal<") < page.index(">Zimbabwe<")
