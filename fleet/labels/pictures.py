"""Pictures as they arrive, turned upright and grey; bombs, strangers and broken files are refused.

Size is checked before a pixel is decoded, and no more pictures are read at once than memory was reckoned for: some 8
bytes for each of DECODED_WHOLE pixels in each of SLOTS.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from threading import BoundedSemaphore
from typing import Any

import pillow_heif
from PIL import Image, UnidentifiedImageError

LARGEST_FILE = 20 * 1024 * 1024
"""Bytes."""
MOST_PIXELS = 50_000_000
"""Of a JPEG, which can be decoded at half its size and less; more is refused before a pixel is decoded."""
DECODED_WHOLE = 25_000_000
"""Pixels that are decoded at most; more is refused where the format knows no reduced decoding."""
SLOTS = 2
"""Pictures that one process reads at once."""
WAITING = 2
"""Pictures that may wait for a slot; each holds a thread meanwhile, so that the next one is sent away."""
PATIENCE = 20.0
"""Seconds that one waits."""
_slots, _places = BoundedSemaphore(SLOTS), BoundedSemaphore(SLOTS + WAITING)
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


class TooBusy(ImageRefused):
    """Others are being read, and enough wait already."""

    message = "Too many pictures are being read just now. This one was not kept; send it again in a few seconds."


@contextmanager
def one_of_few() -> Iterator[None]:
    """A slot to read one picture in. Raises :class:`TooBusy`."""
    if not _places.acquire(blocking=False):
        raise TooBusy
    try:
        if not _slots.acquire(timeout=PATIENCE):
            raise TooBusy
        try:
            yield
        finally:
            _slots.release()
    finally:
        _places.release()


def upright_grey(data: bytes) -> Image.Image:
    """A picture (JPEG, PNG, WebP or HEIC) as grey pixels, turned as its camera was held.

    Raises :class:`ImageTooLarge`, :class:`NotAnImage` or :class:`DamagedImage`.
    """
    if len(data) > LARGEST_FILE:
        raise ImageTooLarge
    is_heic = pillow_heif.is_supported(data[:64])
    picture = _opened(data, is_heic=is_heic)
    width, height = picture.size
    reducible = not is_heic and picture.format == "JPEG"
    if width * height > (MOST_PIXELS if reducible else DECODED_WHOLE):
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
    picture.draft("L", _within_reach(*picture.size))
    grey = _grey(picture)
    return grey.transpose(turn) if turn is not None else grey


def _within_reach(width: int, height: int) -> tuple[int, int]:
    """The size, halved until it may be decoded."""
    while width * height > DECODED_WHOLE:
        width, height = width // 2, height // 2
    return width, height


def _grey(picture: Image.Image) -> Image.Image:
    """Transparent parts count as white paper."""
    if picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info:
        coloured = picture.convert("RGBA")
        return Image.composite(coloured.convert("L"), Image.new("L", coloured.size, 255), coloured.getchannel("A"))
    return picture.convert("L")
