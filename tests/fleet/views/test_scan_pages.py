"""The plain scan page: what a label handed in becomes, and what is said when it cannot be taken."""

import html
import io
import re
from typing import Any

import pytest
import qrcode
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from fleet.models import Device, Member, Placement, Role, Scan, Site
from tests import rows

pytestmark = pytest.mark.django_db

GS1 = "(01)09520001000027(21){}"


def _member(role: str = Role.OFFICE) -> Member:
    return rows.make_member(role, rows.make_company())


def _client(member: Member) -> Client:
    client = Client()
    client.force_login(member.user)
    return client


def _hand_in(client: Client, site: Site, **data: Any) -> Any:
    return client.post(f"/sites/{site.written_code}/scan", data, follow=True)


def _photo(payload: str) -> SimpleUploadedFile:
    content = io.BytesIO()
    qrcode.make(payload, box_size=6).save(content)
    return SimpleUploadedFile("label.png", content.getvalue(), "image/png")


def test_each_fact_says_which_element_gave_it():
    member = _member()
    answer = _hand_in(_client(member), rows.make_site(member.company), text=GS1.format("A-1"))
    facts = {fact.name: (fact.value, fact.given_by) for fact in answer.context["facts"]}
    assert facts["Serial number"][0] == "A-1"
    assert "(21)" in facts["Serial number"][1]
    assert "(01)" in facts["GTIN"][1]
    assert Scan.objects.get().outcome == "linked"


def test_a_photo_is_read():
    member = _member()
    _hand_in(
        _client(member), rows.make_site(member.company), photo=_photo("https://example.com/01/09520001000027/21/P-1")
    )
    scan = Scan.objects.get()
    assert (scan.source, scan.outcome, scan.device.serial) == ("photo", "linked", "P-1")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({}, "Nothing was handed in"),
        ({"text": "   \n "}, "Nothing was handed in"),
        ({"text": "\n".join(f"SN{number}" for number in range(40))}, "You pasted 40 lines"),
        ({"text": "x" * 3000}, "longer than any code can be"),
        ({"photo": SimpleUploadedFile("a.png", b"not a picture at all", "image/png")}, "not a picture"),
        ({"photo": SimpleUploadedFile("a.jpg", b"", "image/jpeg")}, "empty"),
    ],
)
def test_what_is_no_label_is_refused_in_words_and_nothing_is_kept(data: dict[str, Any], said: str):
    member = _member()
    answer = _hand_in(_client(member), rows.make_site(member.company), **data)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert Scan.objects.count() == 0


def test_an_oversized_photo_is_refused_before_it_is_read(settings: Any):
    settings.UPLOAD_MAX_BYTES = 1000
    member = _member()
    big = SimpleUploadedFile("a.png", b"\x89PNG\r\n\x1a\n" + b"0" * 2000, "image/png")
    answer = _hand_in(_client(member), rows.make_site(member.company), photo=big)
    assert answer.status_code == 422
    assert "at most" in answer.content.decode()
    assert Scan.objects.count() == 0


def test_a_refusal_shows_the_exact_place():
    member = _member()
    answer = _hand_in(_client(member), rows.make_site(member.company), text="(01)09520001000028(21)A-1")
    assert Scan.objects.get().reason == "bad_check_digit"
    place = answer.context["place"]
    assert f"character {place.number}" in answer.content.decode()
    shown = place.before + place.there + place.after
    assert shown == "(01)09520001000028(21)A-1"


def test_a_wifi_password_is_neither_kept_nor_shown():
    member = _member()
    answer = _hand_in(_client(member), rows.make_site(member.company), text="WIFI:T:WPA;S:Casa;P:segredo123;;")
    assert "segredo123" not in answer.content.decode()
    assert "segredo123" not in str(Scan.objects.values().get())


def test_pasted_lines_are_several_codes_of_one_label():
    member = _member()
    _hand_in(_client(member), rows.make_site(member.company), text=f"{GS1.format('B-7')}\nB-7\n")
    scan = Scan.objects.get()
    assert (scan.outcome, scan.device.serial) == ("linked", "B-7")


def test_a_plain_serial_is_linked_once_a_person_confirms():
    member = _member()
    client, site = _client(member), rows.make_site(member.company)
    _hand_in(client, site, text="PLAIN-9")
    asked = Scan.objects.get()
    assert (asked.outcome, Placement.objects.count()) == ("confirm", 0)
    for _press in range(2):
        client.post(f"/sites/{site.written_code}/scan/{asked.client_id}/confirm")
    assert Placement.objects.get().device.serial == "PLAIN-9"
    assert Scan.objects.count() == 2


def test_a_device_elsewhere_is_moved_only_when_asked():
    member = _member()
    client, here, there = _client(member), rows.make_site(member.company), rows.make_site(member.company)
    _hand_in(client, there, text=GS1.format("M-1"))
    answer = _hand_in(client, here, text=GS1.format("M-1"))
    scan = Scan.objects.get(site=here)
    assert scan.outcome == "elsewhere"
    assert there.written_code in answer.content.decode()
    assert Placement.objects.get(until=None).site == there
    client.post(f"/sites/{here.written_code}/scan/{scan.client_id}/move-here")
    assert Placement.objects.get(until=None).site == here


def test_of_contradicting_codes_a_person_takes_one():
    member = _member()
    client, site = _client(member), rows.make_site(member.company)
    answer = _hand_in(client, site, text=f"{GS1.format('ONE')}\n{GS1.format('TWO')}")
    asked = Scan.objects.get()
    assert asked.outcome == "refused"
    assert answer.context["single_codes"]
    client.post(f"/sites/{site.written_code}/scan/{asked.client_id}/one-code", {"number": "2"})
    assert Placement.objects.get().device.serial == "TWO"


def test_a_device_placed_by_hand_is_described_and_not_doubled():
    member = _member()
    client, site = _client(member), rows.make_site(member.company)
    page = client.get(f"/sites/{site.written_code}/by-hand")
    said = {"record": str(page.context["form"].initial["record"]), "kind": "backup_switch", "serial": "SW 1"}
    client.post(f"/sites/{site.written_code}/by-hand", said)
    client.post(f"/sites/{site.written_code}/by-hand", said)
    device = Device.objects.get()
    assert (device.kind, device.serial) == ("backup_switch", "SW 1")
    assert Placement.objects.count() == 1


def test_a_swap_whose_new_label_is_plain_asks_and_keeps_the_old_one_until_confirmed():
    member = _member()
    client, site = _client(member), rows.make_site(member.company)
    _hand_in(client, site, text=GS1.format("OLD"))
    old = Placement.objects.get()
    address = f"/sites/{site.written_code}/placements/{old.public_id}/swap"
    asked = client.post(address, {"text": "NEW-PLAIN"})
    assert asked.status_code == 409
    assert Placement.objects.get(until=None) == old
    said = _hidden_fields(asked)
    assert b"It is right: swap" in asked.content
    for _press in range(2):
        done = client.post(address, said, follow=True)
        assert b"NEW-PLAIN stands here in place of OLD" in done.content
        assert done.redirect_chain[0][0] == f"/sites/{site.written_code}/"
    assert Placement.objects.get(until=None).device.serial == "NEW-PLAIN"
    old.refresh_from_db()
    assert old.ended == "swapped"


def test_a_swap_asks_which_of_the_known_devices_a_typed_serial_means():
    member = _member()
    client, site = _client(member), rows.make_site(member.company)
    _hand_in(client, site, text=GS1.format("OLD"))
    spare = rows.make_device(member.company, "SPARE-7", issuer_scheme="gtin", issuer="09520001000027")
    old = Placement.objects.get()
    address = f"/sites/{site.written_code}/placements/{old.public_id}/swap"
    asked = client.post(address, {"text": "SPARE-7"})
    assert f'name="device" value="{spare.public_id}"' in asked.content.decode()
    client.post(address, _hidden_fields(asked) | {"device": str(spare.public_id)})
    assert Placement.objects.get(until=None).device == spare
    assert Device.objects.count() == 2


def test_a_device_is_not_swapped_for_itself():
    member = _member()
    client, site = _client(member), rows.make_site(member.company)
    _hand_in(client, site, text=GS1.format("OLD"))
    old = Placement.objects.get()
    said = client.post(f"/sites/{site.written_code}/placements/{old.public_id}/swap", {"text": GS1.format("OLD")})
    assert (said.status_code, b"label of the device that goes" in said.content) == (409, True)
    assert Placement.objects.get() == old
    assert Placement.objects.get().until is None


def _hidden_fields(page: Any) -> dict[str, str]:
    """What the form on the page sends besides what a person does."""
    inputs = re.findall(r'<input type="hidden" name="(record|kept)" value="([^"]*)"', page.content.decode())
    return {name: html.unescape(value) for name, value in inputs}


def test_a_swap_with_forged_codes_is_refused():
    member = _member()
    client, site = _client(member), rows.make_site(member.company)
    _hand_in(client, site, text=GS1.format("OLD"))
    old = Placement.objects.get()
    answer = client.post(f"/sites/{site.written_code}/placements/{old.public_id}/swap", {"kept": "[1, {"})
    assert answer.status_code == 422
    assert Placement.objects.get(until=None) == old
