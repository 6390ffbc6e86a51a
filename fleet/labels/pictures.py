"""Pictures as they arrive, turned upright and grey; bombs, strangers and broken files are refused.

Size is checked before a pixel is decoded.
"""

from __future__ import annotations

import io
from typing import Any

import pillow_heif
from PIL import Image, UnidentifiedImageError

LARGEST_FILE = 20 * 1024 * 1024
"""Bytes."""
MOST_PIXELS = 50_000_000
"""Of the picture once decoded; more is refused before a pixel is decoded."""
_ORIENTATION = 0x0112
_TRANSPOSED = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}


class ImageRefused(Exception):
    """The picture was not read; ``message`` says why, in English, for the caller to translate."""

    message = "The picture could not be read."


class ImageTooLarge(ImageRefused):
    """More bytes or pixels than we take."""

    message = "The picture is too large. Take it again with a lower resolution, or crop it to the label."


class NotAnImage(ImageRefused):
    """Not a picture, or one of a kind that we do not take."""

    message = "This is not a picture that can be read. Take a photo as JPEG, PNG, WebP or HEIC."


class DamagedImage(ImageRefused):
    """A picture that breaks off or contradicts itself."""

    message = "The picture is damaged. Take it again."


def upright_grey(data: bytes) -> Image.Image:
    """A picture (JPEG, PNG, WebP or HEIC) as grey pixels, turned as its camera was held.

    Raises :class:`ImageTooLarge`, :class:`NotAnImage` or :class:`DamagedImage`.
    """
    if len(data) > LARGEST_FILE:
        raise ImageTooLarge
    is_heic = pillow_heif.is_supported(data[:64])
    picture = _opened(data, is_heic=is_heic)
    width, height = picture.size
    if width * height > MOST_PIXELS:
        raise ImageTooLarge
    try:
        # The HEIC library has turned its pictures upright already.
        return _grey(picture.to_pillow()) if is_heic else _turned(picture)
    except (OSError, SyntaxError, ValueError, EOFError, RuntimeError, MemoryError) as damage:
        raise DamagedImage from damage


def _opened(data: bytes, *, is_heic: bool) -> Any:
    """The picture's frame, its pixels not decoded yet."""
    try:
        if is_heic:
            return pillow_heif.open_heif(data, convert_hdr_to_8bit=True)
        return Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP"))
    except Image.DecompressionBombError as bomb:
        raise ImageTooLarge from bomb
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, EOFError, RuntimeError) as damage:
        raise NotAnImage from damage


def _turned(picture: Image.Image) -> Image.Image:
    turn = _TRANSPOSED.get(picture.getexif().get(_ORIENTATION, 1))
    picture.draft("L", picture.size)
    grey = _grey(picture)
    return grey.transpose(turn) if turn is not None else grey


def _grey(picture: Image.Image) -> Image.Image:
    """Transparent parts count as white paper."""
    if picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info:
        coloured = picture.convert("RGBA")
        picture = Image.alpha_composite(Image.new("RGBA", coloured.size, "white"), coloured)
    return picture.convert("L")
