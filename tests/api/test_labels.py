"""Explaining labels over the API."""

import io

import pytest
import qrcode
from django.core.files.uploadedfile import SimpleUploadedFile

from fleet.models import Scan
from tests.api.conftest import problem

pytestmark = [pytest.mark.django_db, pytest.mark.once]
LINK = "https://id.gs1.org/01/09520123456788/21/SN0001"


def _picture(text: str) -> SimpleUploadedFile:
    buffer = io.BytesIO()
    qrcode.make(text).get_image().save(buffer, "PNG")
    return SimpleUploadedFile("label.png", buffer.getvalue(), "image/png")


def test_a_reading_says_the_standard_and_which_element_gave_what(call):
    answer = call().post("/api/v1/labels/decode", {"payload": LINK, "symbology": "]Q1"}).json()
    assert (answer["read"], answer["standard"]) == (True, "gs1-digital-link")
    assert answer["facts"] == {"gtin": "09520123456788", "serial": "SN0001"}
    gave = {element["fact"]: (element["identifier"], element["position"]) for element in answer["elements"]}
    assert gave["serial"] == ("21", LINK.index("21/SN0001"))
    assert not Scan.objects.exists()


def test_a_refusal_says_why_and_where(call):
    answer = call().post("/api/v1/labels/decode", {"payload": "010952012345678921A", "symbology": "]d2"}).json()
    assert (answer["read"], answer["refuse"]) == (False, "bad_check_digit")
    assert answer["position"] is not None
    assert answer["reason"]


def test_a_secret_is_not_repeated(call):
    answer = call().post("/api/v1/labels/decode", {"payload": "WIFI:T:WPA;S:roof;P:hunter22;;"})
    assert (answer.json()["refuse"], answer.json()["payload_class"]) == ("not_an_identifier", "wifi")
    assert b"hunter22" not in answer.content


def test_a_picture_is_read(call):
    answer = call().client.post("/api/v1/labels/decode", {"image": _picture(LINK)})
    assert answer.json()["facts"]["serial"] == "SN0001"


def test_several_codes_of_a_label_are_read_as_one(call):
    codes = [{"raw": LINK, "format": "]Q1"}, {"raw": "SN0001", "format": "]C0"}]
    answer = call().post("/api/v1/labels/decode", {"codes": codes}).json()
    assert (answer["facts"]["serial"], answer["codes"], answer["confirm"]) == ("SN0001", 2, False)


@pytest.mark.parametrize("body", [{}, {"payload": "a", "codes": [{"raw": "a"}]}, {"codes": []}, {"payload": 5.5}])
def test_neither_or_both_is_refused(call, body):
    answer = call().post("/api/v1/labels/decode", body)
    assert answer.status_code == (200 if body == {"payload": 5.5} else 422)


def test_what_is_no_picture_is_refused(call):
    upload = SimpleUploadedFile("label.png", b"GIF89a not really", "image/png")
    problem(call().client.post("/api/v1/labels/decode", {"image": upload}), 422, "not_a_picture")


def test_a_picture_without_a_code_says_so(call):
    from PIL import Image

    buffer = io.BytesIO()
    Image.new("L", (200, 200), 255).save(buffer, "PNG")
    upload = SimpleUploadedFile("label.png", buffer.getvalue(), "image/png")
    problem(call().client.post("/api/v1/labels/decode", {"image": upload}), 422, "no_code_found")


def test_a_large_picture_is_413(call, settings):
    upload = SimpleUploadedFile("label.png", b"\x89PNG\r\n\x1a\n" + b"0" * settings.UPLOAD_MAX_BYTES, "image/png")
    problem(call().client.post("/api/v1/labels/decode", {"image": upload}), 413, "too_large")
