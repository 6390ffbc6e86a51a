"""The catalogue's pages: what an administrator writes there, the pages of sites and devices show."""

import pytest
from django.test import Client
from django.urls import reverse

from fleet.models import Device, DeviceModel, Kind, Maker, Member, Role
from fleet.search import find_sites, reindex
from fleet.search.sweep import sweep_marks
from tests import rows
from tests.factories import make_capture
from tests.fleet.operations.test_catalogue import GTIN

pytestmark = pytest.mark.django_db
CATALOGUE = "/company/catalogue"


@pytest.fixture
def leonor() -> Member:
    return rows.make_member(Role.ADMINISTRATOR)


@pytest.fixture
def client(leonor: Member) -> Client:
    return signed_in(leonor)


def signed_in(member: Member) -> Client:
    client = Client()
    client.force_login(member.user)
    return client


def text_of(client: Client, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def add_model(client: Client, maker: Maker, name: str, **facts: str) -> None:
    typed = {"maker": str(maker.public_id), "name": name, "kind": "meter"} | facts
    assert client.post(f"{CATALOGUE}/models/new", typed).status_code == 302


def test_an_empty_catalogue_offers_a_list_to_administrators_alone(client, leonor):
    assert "Take this list" in text_of(client, CATALOGUE)
    assert "Take this list" not in text_of(signed_in(rows.make_member(Role.OFFICE, leonor.company)), CATALOGUE)
    assert client.post(f"{CATALOGUE}/start", {"list": "generic"}).status_code == 302
    page = text_of(client, CATALOGUE)
    assert "Take this list" not in page
    assert "Charge point" in page


def test_a_maker_and_a_model_are_added_and_a_label_finds_the_model(client, leonor):
    answer = client.post(f"{CATALOGUE}/makers/new", {"name": "Medalto", "spellings": "Medalto Lda\nMEDALTO"})
    maker = Maker.objects.get(name="Medalto")
    assert answer.url == f"{CATALOGUE}/models/new?maker={maker.public_id}"
    assert f'value="{maker.public_id}" selected' in text_of(client, answer.url)
    add_model(
        client, maker, "Fiel 3", gtins=GTIN[1:], ratings="phases: 3\nac: 5 kW", warranty_months="36",
        label_hint="On its front.", current_firmware="1.2",
    )  # fmt: skip
    page = text_of(signed_in(rows.make_member(Role.FIELD, leonor.company)), CATALOGUE)
    assert all(text in page for text in ("Medalto Fiel 3", GTIN, "36 months of warranty", "On its front.", "AC 5 kW"))
    site = rows.make_site(leonor.company)
    scanned = make_capture(site, f"01{GTIN}21SN42")
    assert client.post(f"/sites/{site.code}/scan", {"text": f"]d2{scanned.raw}"}).status_code == 302
    device = Device.objects.get(serial="SN42")
    assert "Medalto Fiel 3" in text_of(client, f"/devices/{device.public_id}/")
    assert "On its front." in text_of(client, f"/sites/{site.code}/scan")


def test_a_ratingwithout_a_value_is_said_beside_its_field(client, leonor):
    maker = Maker.objects.create(company=leonor.company, name="Medalto")
    typed = {"maker": str(maker.public_id), "name": "Fiel 3", "kind": "meter", "ratings": "5 kW"}
    answer = client.post(f"{CATALOGUE}/models/new", typed)
    assert answer.status_code == 422
    assert "ratings" in answer.context["form"].errors


def test_a_changed_model_shows_what_it_said_and_keeps_the_rest(client, leonor):
    model = rows.make_model(leonor.company, "Fiel 3", Kind.METER, ratings={"phases": "3"}, gtin=GTIN)
    path = f"{CATALOGUE}/models/{model.public_id}/"
    page = client.get(path).context["form"].initial
    answer = client.post(path, {name: value for name, value in page.items() if value is not None} | {"name": "Fiel 4"})
    assert answer.status_code == 302
    model.refresh_from_db()
    assert (model.name, model.ratings, model.gtin, model.kind) == ("Fiel 4", {"phases": "3"}, GTIN, "meter")


def test_two_spellings_become_one_and_the_site_is_found_by_the_one_that_stays(client, leonor):
    wrong, right = (Maker.objects.create(company=leonor.company, name=name) for name in ("Acumulla", "Acumula"))
    model = DeviceModel.objects.create(company=leonor.company, maker=wrong, name="Cofre 7", kind="battery")
    site = rows.make_site(leonor.company)
    rows.place(rows.make_device(leonor.company, model=model, kind="battery"), site)
    preview = client.get(f"{CATALOGUE}/makers/{wrong.public_id}/merge", {"into": str(right.public_id)})
    assert preview.context["preview"].devices == preview.context["preview"].sites == 1
    assert Maker.objects.filter(company=leonor.company).count() == 2
    answer = client.post(f"{CATALOGUE}/makers/{wrong.public_id}/merge", {"into": str(right.public_id)})
    assert answer.url == reverse("fleet:maker", args=[right.public_id])
    page = text_of(client, CATALOGUE)
    assert "Acumula Cofre 7" in page
    assert "also written Acumulla" in page
    sweep_marks()
    assert [row.site_id for row in find_sites(member=leonor, text="Acumula Cofre 7").rows] == [site.pk]
    assert "Acumula Cofre 7" in text_of(client, f"/sites/{site.code}/")


def test_it_says_at_how_many_sites_a_model_stands_and_leads_to_these(client, leonor):
    model = rows.make_model(leonor.company)
    one, other, without = (rows.make_site(leonor.company) for _ in range(3))
    for site in (one, one, other):
        rows.place(rows.make_device(leonor.company, model=model), site)
    assert ">2 sites</a>" in text_of(client, CATALOGUE)
    assert "3 in place" in text_of(client, CATALOGUE)
    reindex([one.pk, other.pk])
    shown = text_of(client, f"/sites/?model={model.public_id}")
    assert [site.written_code in shown for site in (one, other, without)] == [True, True, False]


def test_a_model_in_use_stays_and_says_why(client, leonor):
    model = rows.make_model(leonor.company)
    rows.make_device(leonor.company, model=model)
    answer = client.post(f"{CATALOGUE}/models/{model.public_id}/remove", follow=True)
    assert "Devices of this model are in the register" in answer.content.decode()
    assert DeviceModel.objects.filter(pk=model.pk).exists()


@pytest.mark.parametrize("role", [Role.ADMINISTRATOR, Role.OFFICE, Role.FIELD])
def test_each_role_sets_a_devices_model_on_its_page(leonor, role):
    member = rows.make_member(role, leonor.company)
    site, model = rows.make_site(leonor.company), rows.make_model(leonor.company, "Cofre 7", Kind.BATTERY)
    rows.assign(member, site)
    device = rows.make_device(leonor.company, kind=Kind.OTHER)
    placement = rows.place(device, site)
    client = signed_in(member)
    typed = {"kind": "other", "model": str(model.public_id), "position": "Cellar"}
    assert client.post(f"/sites/{site.code}/placements/{placement.public_id}/describe", typed).status_code == 302
    page = text_of(client, f"/sites/{site.code}/")
    assert page.count("Solvento Cofre 7") >= 1
    assert "Cellar" in page


def test_a_device_that_stands_nowhere_is_described_too(client, leonor):
    device = rows.make_device(leonor.company, kind=Kind.OTHER)
    model = rows.make_model(leonor.company, "Fiel 3", Kind.METER)
    path = f"/devices/{device.public_id}/"
    assert client.post(f"{path}describe", {"kind": "other", "model": str(model.public_id)}).status_code == 302
    device.refresh_from_db()
    assert (device.kind, device.model) == ("meter", model)
    assert "Solvento Fiel 3" in text_of(client, path)
