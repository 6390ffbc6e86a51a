"""Reading codes in pictures: made-up photos, hostile files, and what must never come back."""

from __future__ import annotations

import io
import struct
import zlib

import numpy as np
import pillow_heif
import pytest
import zxingcpp
from PIL import Image

from fleet.labels import pictures
from fleet.labels.optical import DamagedImage, ImageTooLarge, NotAnImage, read_image
from tests.fleet.labels.photos import make_photo

BARCODE = zxingcpp.BarcodeFormat


def _picture(text, kind=BARCODE.DataMatrix, *, gs1=False, scale=6):
    barcode = zxingcpp.create_barcode(text, kind, **({"gs1": True} if gs1 else {}))
    return Image.fromarray(np.array(zxingcpp.write_barcode_to_image(barcode, scale=scale, add_quiet_zones=True)))


def _file(image, kind="PNG", **options):
    file = io.BytesIO()
    image.save(file, kind, **options)
    return file.getvalue()


@pytest.mark.parametrize("seed", [0, 2, 5, 11, 42, 73])
def test_made_up_photos(seed):
    photo = make_photo(seed)
    assert {code.payload for code in read_image(photo.jpeg)} == photo.payloads, photo.conditions


@pytest.mark.parametrize(
    ("kind", "text", "symbology", "payload"),
    [
        (BARCODE.DataMatrix, "(01)09520123456788(10)L1(21)ABC", "]d2", "010952012345678810L1\x1d21ABC"),
        (BARCODE.QRCode, "(01)09520123456788(21)ABC", "]Q3", "010952012345678821ABC"),
        (BARCODE.Code128, "(01)09520123456788(21)ABC", "]C1", "010952012345678821ABC"),
    ],
)
def test_separators_and_symbology_survive(kind, text, symbology, payload):
    (code,) = read_image(_file(_picture(text, kind, gs1=True, scale=4)))
    assert (code.symbology, code.payload) == (symbology, payload)


@pytest.mark.parametrize(
    ("kind", "text", "symbology", "payload"),
    [
        (BARCODE.QRCode, "[)>\x1e06\x1dS1\x1e\x04", "]Q1", "[)>\x1e06\x1dS1\x1e\x04"),
        (BARCODE.MicroQRCode, "SN12", "]Q1", "SN12"),
        (BARCODE.Code39, "V45GPC", "]A0", "V45GPC"),
        (BARCODE.EAN13, "9520123456788", "]E0", "9520123456788"),
        (BARCODE.UPCA, "416000336108", "]E0", "0416000336108"),
        (BARCODE.EAN8, "96385074", "]E4", "96385074"),
        (BARCODE.ITF14, "05901234123457", "]I1", "05901234123457"),
    ],
)
def test_every_kind_of_code(kind, text, symbology, payload):
    (code,) = read_image(_file(_picture(text, kind, scale=4)))
    assert (code.symbology, code.payload) == (symbology, payload)


def test_positions_are_in_pixels_of_the_upright_picture():
    scene = Image.new("L", (900, 700), 255)
    scene.paste(_picture("SN0001"), (500, 100))
    exif = Image.Exif()
    exif[0x0112] = 6  # A camera held upright: the stored picture lies on its side.
    stored = scene.transpose(Image.Transpose.ROTATE_90)
    (code,) = read_image(_file(stored, "JPEG", exif=exif, quality=95))
    across, down = [x for x, _ in code.position], [y for _, y in code.position]
    assert 500 <= min(across) < max(across) <= 500 + _picture("SN0001").width
    assert 100 <= min(down) < max(down) <= 100 + _picture("SN0001").height


def test_positions_in_a_turned_part():
    scene = Image.new("L", (1600, 1200), 160)
    linear = _picture("SN-TURNED-1", BARCODE.Code128, scale=3).rotate(40, expand=True, fillcolor=160)
    scene.paste(linear, (800, 300))
    (code,) = read_image(_file(scene))
    middle = np.mean(code.position, axis=0)
    expected = (800 + linear.width / 2, 300 + linear.height / 2)
    assert np.hypot(*(middle - expected)) < 25


def test_light_on_dark_is_rescued():
    scene = Image.new("L", (900, 700), 40)
    scene.paste(Image.eval(_picture("SN0001"), lambda value: 255 - value), (300, 200))
    assert [code.payload for code in read_image(_file(scene))] == ["SN0001"]


def test_transparent_paper_counts_as_white():
    opaque = _picture("SN0001").convert("RGBA")
    opaque.putalpha(Image.eval(opaque.convert("L"), lambda value: 255 - value))
    assert [code.payload for code in read_image(_file(opaque))] == ["SN0001"]


def test_heic_is_read():
    file = io.BytesIO()
    pillow_heif.from_pillow(_picture("SN0001", scale=12).convert("RGB")).save(file, quality=90)
    assert [code.payload for code in read_image(file.getvalue())] == ["SN0001"]


def test_a_large_heic_is_refused_before_it_is_decoded(monkeypatch):
    monkeypatch.setattr(pictures, "_grey", lambda picture: pytest.fail("decoded"))
    monkeypatch.setattr(pictures, "DECODED_WHOLE", 100)
    file = io.BytesIO()
    pillow_heif.from_pillow(Image.new("RGB", (64, 64))).save(file)
    with pytest.raises(ImageTooLarge):
        read_image(file.getvalue())


def test_a_picture_without_codes():
    assert read_image(_file(Image.new("RGB", (1200, 900), "tan"), "JPEG")) == []


def test_bytes_that_are_not_utf_8_come_as_the_text_that_they_most_likely_are():
    barcode = zxingcpp.create_barcode(b"SN\xa312", BARCODE.DataMatrix)
    image = Image.fromarray(np.array(zxingcpp.write_barcode_to_image(barcode, scale=6)))
    (code,) = read_image(_file(image))
    assert code.payload == "SN£12"


@pytest.mark.parametrize(
    "data", [b"", b"no picture", b"GIF89a" + bytes(40), b"<svg/>", b"\x89PNG\r\n\x1a\n", b"%PDF-1.7"]
)
def test_not_a_picture(data):
    with pytest.raises(NotAnImage):
        read_image(data)


def test_a_bomb_is_refused_before_it_is_decoded(monkeypatch):
    monkeypatch.setattr(pictures, "_grey", lambda picture: pytest.fail("decoded"))
    header = struct.pack(">IIBBBBB", 20_000, 20_000, 8, 0, 0, 0, 0)

    def chunk(kind, body):
        return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))

    bomb = (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(bytes(1000))) + chunk(b"IEND", b"")
    )
    with pytest.raises(ImageTooLarge):
        read_image(bomb)


def test_too_many_bytes():
    with pytest.raises(ImageTooLarge):
        read_image(bytes(pictures.LARGEST_FILE + 1))


def test_a_picture_that_breaks_off():
    whole = _file(Image.effect_noise((800, 600), 50), "JPEG")
    with pytest.raises(DamagedImage):
        read_image(whole[: len(whole) // 2])


def test_every_refusal_says_what_to_do():
    for kind in (ImageTooLarge, NotAnImage, DamagedImage):
        assert kind.message.endswith(".")
        assert "again" in kind.message or "Take a photo" in kind.message
