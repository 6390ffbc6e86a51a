"""Numbers and plan over the pages: what one page takes, another shows."""

import pytest
from django.test import Client

from fleet.models import Kind, Member, Role, Site
from tests import rows

pytestmark = pytest.mark.django_db
FACTS = {"street": "Rua Nova", "town": "Vila Serena", "country": "PT", "use": "home"}


@pytest.fixture
def office() -> Member:
    return rows.make_member(Role.OFFICE)


@pytest.fixture
def site(office: Member) -> Site:
    return rows.make_site(office.company)


@pytest.fixture
def client(office: Member) -> Client:
    client = Client()
    client.force_login(office.user)
    return client


def text_of(client: Client, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_an_order_number_typed_on_the_form_finds_the_site_and_stands_on_its_page(client, site):
    path = f"/sites/{site.written_code}/"
    typed = FACTS | {"version": 1, "order": "A-70003012, A-70003013", "meter_point": "PT 0002"}
    assert client.post(f"{path}edit", typed).status_code == 302
    page = text_of(client, path)
    assert all(number in page for number in ("A-70003012", "A-70003013", "PT 0002"))
    assert site.written_code in text_of(client, "/search?q=A-70003013")
    assert 'value="A-70003012, A-70003013"' in text_of(client, f"{path}edit")
    assert client.post(f"{path}edit", FACTS | {"version": 2}).status_code == 302
    assert "A-70003012" not in text_of(client, "/sites/?q=Rua+Nova")
    assert not site.references.exists()


def test_a_number_that_is_too_long_is_said_beside_its_field_and_the_typed_text_stays(client, site):
    answer = client.post(f"/sites/{site.written_code}/edit", FACTS | {"version": 1, "order": "A" * 81})
    assert answer.status_code == 422
    assert "order" in answer.context["numbers"].errors
    assert 'value="Rua Nova"' in answer.content.decode()


def test_the_sites_page_tells_a_stated_nought_from_nobody_said(client, site):
    path = f"/sites/{site.written_code}/"
    assert "Nobody said yet what will stand here." in text_of(client, path)
    rows.place(rows.make_device(site.company, kind=Kind.BATTERY), site)
    assert client.post(f"{path}plan", {"inverter": "2", "optimiser": "0"}).status_code == 302
    page = text_of(client, path)
    planned = page[page.index('id="planned"') :]
    planned = planned[: planned.index("</section>")]
    assert planned.index("Inverter") < planned.index("2 expected") < planned.index("2 to be scanned")
    assert planned.index("Optimiser") < planned.index("none expected")
    assert planned.index("Battery") < planned.index("nobody said") < planned.index("Optimiser")


def test_a_unit_is_planned_and_taken_off_again(client, site):
    path = f"/sites/{site.written_code}/plan"
    assert client.post(f"{path}/units", {"kind": "inverter", "serial": "SN-77"}).status_code == 302
    assert "SN-77" in text_of(client, path)
    assert client.post(f"{path}/units/take-off", {"serial": "SN-77"}).status_code == 302
    after = client.get(path)
    assert after.context["plan"].units == []
    assert client.post(f"{path}/units/take-off", {"serial": "SN-77"}).status_code == 404


def test_a_number_that_is_none_is_refused_beside_its_kind(client, site):
    answer = client.post(f"/sites/{site.written_code}/plan", {"inverter": "two", "battery": "1000"})
    assert answer.status_code == 422
    assert set(answer.context["form"].errors) == {"inverter", "battery"}
