"""Draws a device label as a maker would print it: a QR code with a GS1 Digital Link, and the same in letters."""

from io import BytesIO
from typing import Any, cast

import qrcode
from PIL import Image, ImageDraw

HOST = "https://id.example.com"
WIDTH, HEIGHT = 640, 420


def label_picture(*, gtin: str, serial: str, model: str) -> bytes:
    """A PNG of the label."""
    picture = Image.new("RGB", (WIDTH, HEIGHT), "white")
    code = qrcode.QRCode(error_correction=qrcode.constants.ERROR_CORRECT_Q, box_size=8, border=4)
    code.add_data(f"{HOST}/01/{gtin}/21/{serial}")
    code.make(fit=True)
    drawn = cast(Any, code.make_image()).get_image().convert("RGB")
    picture.paste(drawn, (10, 10))
    draw = ImageDraw.Draw(picture)
    draw.text((drawn.width + 20, 60), f"{model}\n\nGTIN (01) {gtin}\n\nSN (21) {serial}", fill="black")
    kept = BytesIO()
    picture.save(kept, "PNG")
    return kept.getvalue()
