"""Films for Chromium's fake camera: labels held before it one after another, as JPEG frames in a row."""

import io
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import zxingcpp
from PIL import Image

SIZE = (1280, 720)
GTIN = "09520123456788"
KEEP_LABELS = """async ([first, count]) => {
  for (let number = first; number < first + count; number += 1) {
    const raw = `010952012345678821SN${String(number).padStart(6, "0")}`;
    await Rooftally.capture.keep("scan", Rooftally.work.place, { raw, format: "]d2", source: "camera" });
  }
}"""
"""What the camera hands on for so many labels, without a camera: takes the first number and how many."""


@dataclass(frozen=True)
class Label:
    """One label: its printed kind of code and its payload; ``serial`` is what a register must make of it."""

    kind: str
    payload: str
    serial: str

    def picture(self) -> Image.Image:
        """The label as the camera sees it: black on white, a quiet zone around, on a grey cabinet."""
        barcode = zxingcpp.create_barcode(self.payload, getattr(zxingcpp.BarcodeFormat, self.kind))
        scale = 3 if self.kind == "Code128" else 10
        image: Any = zxingcpp.write_barcode_to_image(barcode, scale=scale, add_quiet_zones=True)
        code = Image.fromarray(image).convert("L")
        if self.kind == "Code128":
            code = code.resize((code.width, max(code.height, 200)), Image.Resampling.NEAREST)
        scene = Image.new("L", SIZE, 168)
        scene.paste(code, ((SIZE[0] - code.width) // 2, (SIZE[1] - code.height) // 2))
        return scene


def labels(count: int, first: int = 1) -> list[Label]:
    """Labels of three kinds in turn: a GS1 Digital Link in a QR code, ISO/IEC 15434 in a Data Matrix, bracketed GS1
    text in Code 128."""
    made = []
    for number in range(first, first + count):
        serial = f"SN{number:06d}"
        which = number % 3
        if which == 0:
            made.append(Label("QRCode", f"https://id.gs1.org/01/{GTIN}/21/{serial}", serial))
        elif which == 1:
            message = f"[)>\x1e06\x1d18VLEFEL\x1dS{serial}\x1e\x04"
            made.append(Label("DataMatrix", message, serial))
        else:
            made.append(Label("Code128", f"(01){GTIN}(21){serial}", serial))
    return made


def shoot(path: Path, shown: list[Label], *, frames: int = 14, empty: int = 4) -> Path:
    """Write a film of these labels: ``frames`` of each, then ``empty`` ones without any."""
    nothing = _jpeg(Image.new("L", SIZE, 168))
    with path.open("wb") as film:
        for label in shown:
            film.write(_jpeg(label.picture()) * frames + nothing * empty)
    return path


def _jpeg(picture: Image.Image) -> bytes:
    buffer = io.BytesIO()
    picture.convert("RGB").save(buffer, "JPEG", quality=85)
    return buffer.getvalue()
