"""Made-up photos of labels: turned, tilted, blurred, glaring, one code or several. Same seed, same photo."""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
import zxingcpp
from PIL import Image, ImageDraw, ImageFilter

SIZE = (2048, 1536)
BARCODE = zxingcpp.BarcodeFormat


@dataclass(frozen=True)
class Photo:
    jpeg: bytes
    payloads: frozenset[str]
    conditions: str


def make_photo(seed: int) -> Photo:
    """A photo of about three megapixels, and what its codes hold."""
    random = np.random.default_rng(seed)
    card, payloads = _label(random)
    turned = float(random.uniform(0, 360))
    scene, size = _placed(random, card, turned)
    blur = float(random.uniform(0, 1.3))
    glare = bool(random.random() < 0.4)
    if glare:
        scene = _with_glare(random, scene, size)
    scene = scene.filter(ImageFilter.GaussianBlur(blur))
    noisy = np.asarray(scene, dtype=np.float32) + random.normal(0, random.uniform(2, 9), (SIZE[1], SIZE[0]))
    light = random.uniform(0.45, 1.0)
    picture = Image.fromarray(np.clip(noisy * light + random.uniform(0, 20), 0, 255).astype(np.uint8))
    file = io.BytesIO()
    picture.save(file, "JPEG", quality=int(random.integers(70, 93)))
    return Photo(file.getvalue(), frozenset(payloads), f"turned {turned:.0f}, blur {blur:.1f}, glare {glare}")


def _serial(random) -> str:
    alphabet = "0123456789ABCDEFGHJKLMNPQRSTUVWXYZ"
    return "".join(random.choice(list(alphabet), size=int(random.integers(6, 15))))


def _gtin(random) -> str:
    digits = [9, 5, 2, *random.integers(0, 10, 9)]
    weighted = sum(int(digit) * (3 if place % 2 else 1) for place, digit in enumerate(digits))
    return "".join(map(str, digits)) + str(-weighted % 10)


def _codes(random) -> list[tuple[Image.Image, str]]:
    gtin, serial = _gtin(random), _serial(random)
    elements = f"010{gtin}21{serial}"
    bracketed = f"(01)0{gtin}(21){serial}"
    module = int(random.integers(4, 8))
    narrow = int(random.integers(3, 5))
    choices = (
        lambda: [(_drawn(bracketed, BARCODE.DataMatrix, module, gs1=True), elements)],
        lambda: [(_drawn(f"https://id.example/01/0{gtin}/21/{serial}", BARCODE.QRCode, module), "")],
        lambda: [(_drawn(f"SN:{serial};PN:AB-{gtin[5:9]}", BARCODE.QRCode, module), "")],
        lambda: [
            (_drawn(gtin, BARCODE.EAN13, narrow), gtin),
            (_drawn(serial, BARCODE.Code128, narrow), serial),
        ],
        lambda: [(_drawn(serial, BARCODE.Code39, narrow), serial)],
        lambda: [
            (_drawn(bracketed, BARCODE.DataMatrix, module, gs1=True), elements),
            (_drawn(serial, BARCODE.Code128, narrow), serial),
        ],
        lambda: [
            (_drawn(f"https://maker.example/?.S={serial}", BARCODE.QRCode, module), ""),
            (_drawn(serial, BARCODE.Code128, narrow), serial),
            (_drawn(bracketed, BARCODE.DataMatrix, module, gs1=True), elements),
        ],
    )
    made = choices[int(random.integers(len(choices)))]()
    return [(image, payload or image.info["text"]) for image, payload in made]


def _drawn(text: str, kind, scale: int, *, gs1: bool = False) -> Image.Image:
    options = {"gs1": True} if gs1 else {}
    barcode = zxingcpp.create_barcode(text, kind, **options)
    drawn = zxingcpp.write_barcode_to_image(barcode, scale=scale, add_quiet_zones=True)
    image = Image.fromarray(np.array(drawn))
    image.info["text"] = text
    return image


def _label(random) -> tuple[Image.Image, list[str]]:
    codes = _codes(random)
    gap, words = 40, 60
    width = max(max(image.width for image, _ in codes) + 2 * gap, 480)
    height = sum(image.height + gap + words for image, _ in codes) + gap
    paper = int(random.integers(215, 256))
    card = Image.new("L", (width, height), paper)
    pen = ImageDraw.Draw(card)
    top = gap
    for image, payload in codes:
        card.paste(image, (gap, top))
        top += image.height + 8
        pen.text((gap, top), payload[:40], fill=20, font_size=26)
        top += gap + words - 8
    return card, [payload for _, payload in codes]


def _background(random) -> Image.Image:
    width, height = SIZE
    across = np.linspace(random.uniform(60, 180), random.uniform(60, 200), width)[None, :]
    down = np.linspace(-25, 25, height)[:, None]
    surface = across + down + random.normal(0, 6, (height, width))
    if random.random() < 0.4:  # Cooling fins.
        surface = surface + 45 * np.sign(np.sin(np.arange(width) * 2 * np.pi / random.uniform(18, 60)))[None, :]
    return Image.fromarray(np.clip(surface, 0, 255).astype(np.uint8)).filter(ImageFilter.GaussianBlur(1))


def _placed(random, card: Image.Image, turned: float) -> tuple[Image.Image, float]:
    """The card on its background, seen at an angle."""
    scene = _background(random)
    largest = 0.92 * min(SIZE) / float(np.hypot(*card.size))
    factor = min(largest, float(random.uniform(0.95, 1.3)))
    half = np.array(card.size) * factor / 2
    corners = np.array([[-half[0], -half[1]], [half[0], -half[1]], [half[0], half[1]], [-half[0], half[1]]])
    angle = np.radians(turned)
    flat = corners @ np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    tilt, towards = np.radians(random.uniform(0, 28)), random.uniform(0, 2 * np.pi)
    axis = np.array([np.cos(towards), np.sin(towards)])
    depth = (flat @ axis) * np.sin(tilt)
    squeezed = flat - np.outer(flat @ axis, axis) * (1 - np.cos(tilt))
    seen = squeezed * (2600 / (2600 + depth))[:, None] + np.array(SIZE) / 2
    matrix = _perspective(seen, [(0, 0), (card.width, 0), (card.width, card.height), (0, card.height)])
    warped = card.transform(SIZE, Image.Transform.PERSPECTIVE, matrix, Image.Resampling.BICUBIC)
    mask = Image.new("L", card.size, 255).transform(SIZE, Image.Transform.PERSPECTIVE, matrix)
    scene.paste(warped, (0, 0), mask)
    return scene, float(np.hypot(*half))


def _perspective(seen, flat) -> list[float]:
    rows, right = [], []
    for (x, y), (u, v) in zip(seen, flat, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -u * x, -u * y], [0, 0, 0, x, y, 1, -v * x, -v * y]]
        right += [u, v]
    return [float(value) for value in np.linalg.solve(np.array(rows), np.array(right))]


def _with_glare(random, scene: Image.Image, reach: float) -> Image.Image:
    """A soft bright spot near the edge of the label."""
    away, radius = random.uniform(0, 2 * np.pi), reach * random.uniform(0.12, 0.3)
    middle = np.array(SIZE) / 2 + reach * random.uniform(0.5, 0.9) * np.array([np.cos(away), np.sin(away)])
    y, x = np.mgrid[0 : SIZE[1], 0 : SIZE[0]]
    spot = 190 * np.exp(-(((x - middle[0]) ** 2 + (y - middle[1]) ** 2) / (2 * radius**2)))
    return Image.fromarray(np.clip(np.asarray(scene, dtype=np.float32) + spot, 0, 255).astype(np.uint8))
