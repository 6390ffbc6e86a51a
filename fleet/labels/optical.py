"""Codes in a photo: which there are, what they hold, where they stand. Uses zxing-cpp; no network, no files.

zxing-cpp is asked for the plain text and the bytes, never for its human-readable form, which has brackets and loses
the separators. Large photos are read at half scale first. Sharpening, turning and light-on-dark codes are tried only
where nothing was found. Linear codes are read twice, because a short check character lets a misreading through now
and then.
"""

from __future__ import annotations

import io
import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

import pillow_heif
import zxingcpp
from PIL import Image, ImageFilter, UnidentifiedImageError

from fleet.labels.bars import barred_regions

LARGEST_FILE = 20 * 1024 * 1024
"""Bytes."""
MOST_PIXELS = 50_000_000
"""Of the picture once decoded; more is refused before a pixel is decoded."""
_SMALLEST_USEFUL = 350_000
_THOROUGH_PIXELS = 4_500_000
_READ_WITHOUT_TURNING = 9.0
_ENLARGED_UP_TO = 400_000
_RESCUED_AT = 800_000
_RESCUE_ANGLES = (45.0, 22.5, 67.5)
_ORIENTATION = 0x0112

_MATRIX = (zxingcpp.BarcodeFormat.QRCode, zxingcpp.BarcodeFormat.MicroQRCode, zxingcpp.BarcodeFormat.DataMatrix)
_LINEAR = (
    zxingcpp.BarcodeFormat.Code128,
    zxingcpp.BarcodeFormat.Code39Std,
    zxingcpp.BarcodeFormat.EAN13,
    zxingcpp.BarcodeFormat.EAN8,
    zxingcpp.BarcodeFormat.ITF14,
)
_LINEAR_MARKS = ("]C", "]A", "]E", "]I")
_TRANSPOSED = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}

Point = tuple[int, int]


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


@dataclass(frozen=True, slots=True)
class CodeFound:
    """One code in a picture."""

    payload: str
    symbology: str
    """AIM symbology identifier, such as ``]d2``."""
    kind: str
    """The printed kind of code, such as ``Data Matrix``."""
    position: tuple[Point, Point, Point, Point]
    """Corners in pixels of the upright picture: top left, top right, bottom right, bottom left of the code."""


def read_image(data: bytes) -> list[CodeFound]:
    """All codes in a picture (JPEG, PNG, WebP or HEIC), from top to bottom.

    Raises :class:`ImageTooLarge`, :class:`NotAnImage` or :class:`DamagedImage`.
    """
    if len(data) > LARGEST_FILE:
        raise ImageTooLarge
    picture = _opened(data)
    width, height = picture.size
    if width * height > MOST_PIXELS:
        raise ImageTooLarge
    try:
        return sorted(_codes(picture), key=lambda code: (min(y for _, y in code.position), code.position[0]))
    except (OSError, SyntaxError, ValueError, EOFError, MemoryError) as damage:
        raise DamagedImage from damage


def _opened(data: bytes) -> Image.Image:
    try:
        if pillow_heif.is_supported(data[:64]):
            return pillow_heif.open_heif(data, convert_hdr_to_8bit=True).to_pillow()
        return Image.open(io.BytesIO(data), formats=("JPEG", "PNG", "WEBP"))
    except Image.DecompressionBombError as bomb:
        raise ImageTooLarge from bomb
    except (UnidentifiedImageError, OSError, SyntaxError, ValueError, EOFError) as damage:
        raise NotAnImage from damage


def _codes(picture: Image.Image) -> list[CodeFound]:
    upright = _upright_grey(picture)
    pixels = upright.width * upright.height
    found: dict[tuple[str, str], CodeFound] = {}
    smaller = upright
    for factor in _scales(pixels):
        if factor == 1 and pixels > _THOROUGH_PIXELS and found:
            break
        seen = upright if factor == 1 else upright.reduce(factor)
        formats = _LINEAR if _holds_matrix_code(found) else (*_MATRIX, *_LINEAR)
        _add(found, _read_at(seen, upright, float(factor), *formats, try_downscale=factor > 1))
        smaller = seen if seen.width * seen.height >= _SMALLEST_USEFUL * 2 and factor > 1 else smaller
    _add(found, _askew(upright, smaller, found.values()))
    if not found:
        _add(found, _rescued(upright))
    return list(found.values())


def _holds_matrix_code(found: dict[tuple[str, str], CodeFound]) -> bool:
    """Then every pixel is looked at for linear codes only: looking for Data Matrix there is the dearest part by far."""
    return any(not symbology.startswith(_LINEAR_MARKS) for symbology, _ in found)


def _scales(pixels: int) -> list[int]:
    """Divisors of the size to read at, smallest picture first: a small picture shows large and blurred codes best."""
    return [factor for factor in (4, 2, 1) if factor == 1 or pixels / factor**2 >= _SMALLEST_USEFUL]


def _add(found: dict[tuple[str, str], CodeFound], codes: Iterable[CodeFound]) -> None:
    for code in codes:
        found.setdefault((code.symbology, code.payload), code)


def _upright_grey(picture: Image.Image) -> Image.Image:
    turn = _TRANSPOSED.get(picture.getexif().get(_ORIENTATION, 1))
    picture.draft("L", picture.size)
    if picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info:
        coloured = picture.convert("RGBA")
        paper = Image.new("RGBA", coloured.size, "white")
        picture = Image.alpha_composite(paper, coloured)
    grey = picture.convert("L")
    return grey.transpose(turn) if turn is not None else grey


def _read_at(
    seen: Image.Image,
    whole: Image.Image,
    scale: float,
    *formats: zxingcpp.BarcodeFormat,
    try_downscale: bool = False,
    try_invert: bool = False,
) -> Iterator[CodeFound]:
    for barcode in _barcodes(seen, *formats, try_downscale=try_downscale, try_invert=try_invert):
        corners = _corners(barcode, lambda x, y: (x * scale, y * scale))
        if not _is_linear(barcode) or _reads_the_same_again(barcode, whole, corners):
            yield _found(barcode, corners)


def _barcodes(
    seen: Image.Image, *formats: zxingcpp.BarcodeFormat, try_downscale: bool = False, try_invert: bool = False
) -> list[zxingcpp.Barcode]:
    return list(
        zxingcpp.read_barcodes(
            seen,
            formats=zxingcpp.BarcodeFormats(formats or (*_MATRIX, *_LINEAR)),
            text_mode=zxingcpp.TextMode.Plain,
            try_downscale=try_downscale,
            try_invert=try_invert,
        )
    )


def _is_linear(barcode: zxingcpp.Barcode) -> bool:
    return str(barcode.symbology_identifier).startswith(_LINEAR_MARKS)


def _reads_the_same_again(barcode: zxingcpp.Barcode, whole: Image.Image, corners: tuple[Point, ...]) -> bool:
    """Whether a linear code gives the same text in a cut-out of another size."""
    left, top, right, bottom = _box(corners)
    margin = 20 + max(right - left, bottom - top) // 6
    box = (
        max(left - margin, 0),
        max(top - margin, 0),
        min(right + margin, whole.width),
        min(bottom + margin, whole.height),
    )
    cut = whole.crop(box)
    factor = 1.37 if cut.width * cut.height < 400_000 else 0.73
    resized = cut.resize((round(cut.width * factor), round(cut.height * factor)), Image.Resampling.BILINEAR)
    return any(other.text == barcode.text for other in _barcodes(resized, *_LINEAR))


def _askew(upright: Image.Image, smaller: Image.Image, found: Iterable[CodeFound]) -> Iterator[CodeFound]:
    """Linear codes that do not lie along rows or columns: each part with parallel bars is turned back and read."""
    shrink = upright.width / smaller.width
    codes = [_box(code.position) for code in found]
    enlarge = not codes
    for region in barred_regions(smaller):
        left, top, right, bottom = (round(edge * shrink) for edge in region.box)
        if (codes and _lies_straight(region.angle)) or any(_holds(box, left + right, top + bottom) for box in codes):
            continue
        origin = max(left, 0), max(top, 0)
        part = upright.crop((*origin, min(right, upright.width), min(bottom, upright.height)))
        yield from _read_turned(part, region.angle, origin, 1.0, *_LINEAR, enlarge=enlarge)


def _lies_straight(angle: float) -> bool:
    """Near enough to rows or columns to have been read without turning."""
    return abs((angle + 45) % 90 - 45) < _READ_WITHOUT_TURNING


def _holds(box: tuple[int, int, int, int], twice_across: int, twice_down: int) -> bool:
    return box[0] <= twice_across / 2 <= box[2] and box[1] <= twice_down / 2 <= box[3]


def _box(corners: tuple[Point, ...]) -> tuple[int, int, int, int]:
    across, down = [x for x, _ in corners], [y for _, y in corners]
    return min(across), min(down), max(across), max(down)


def _rescued(upright: Image.Image) -> Iterator[CodeFound]:
    """Sharpened, then turned, until something is found."""
    shrink = max(1.0, (upright.width * upright.height / _RESCUED_AT) ** 0.5)
    small = upright.resize((round(upright.width / shrink), round(upright.height / shrink)), Image.Resampling.BILINEAR)
    sharp = small.filter(ImageFilter.UnsharpMask(radius=3, percent=200, threshold=2))
    found = list(_read_at(sharp, upright, shrink, try_downscale=True, try_invert=True))
    for angle in _RESCUE_ANGLES:
        if found:
            break
        found = list(_read_turned(small, angle, (0, 0), shrink, *_MATRIX))
    yield from found


def _read_turned(
    part: Image.Image,
    angle: float,
    origin: Point,
    shrink: float,
    *formats: zxingcpp.BarcodeFormat,
    enlarge: bool = False,
) -> Iterator[CodeFound]:
    turned = part.rotate(angle, Image.Resampling.BICUBIC, expand=True, fillcolor=128)
    size = part.size
    barcodes = _barcodes(turned, *formats)
    if enlarge and not barcodes and turned.width * turned.height <= _ENLARGED_UP_TO:
        turned = turned.resize((turned.width * 2, turned.height * 2), Image.Resampling.BICUBIC)
        size, shrink = (size[0] * 2, size[1] * 2), shrink / 2
        barcodes = _barcodes(turned, *formats)
    back = _turned_back(size, turned.size, angle, shrink, origin)
    for barcode in barcodes:
        if not _is_linear(barcode) or _reads_the_same_again(barcode, turned, _corners(barcode, _as_it_is)):
            yield _found(barcode, _corners(barcode, back))


def _as_it_is(x: float, y: float) -> tuple[float, float]:
    return x, y


def _turned_back(
    size: tuple[int, int], turned: tuple[int, int], angle: float, shrink: float, origin: Point
) -> Callable[[float, float], tuple[float, float]]:
    cosine, sine = math.cos(math.radians(angle)), math.sin(math.radians(angle))

    def back(x: float, y: float) -> tuple[float, float]:
        across, down = x - turned[0] / 2, y - turned[1] / 2
        return (
            (across * cosine - down * sine + size[0] / 2) * shrink + origin[0],
            (across * sine + down * cosine + size[1] / 2) * shrink + origin[1],
        )

    return back


def _corners(
    barcode: zxingcpp.Barcode, place: Callable[[float, float], tuple[float, float]]
) -> tuple[Point, Point, Point, Point]:
    at = barcode.position
    first, second, third, fourth = (
        place(corner.x, corner.y) for corner in (at.top_left, at.top_right, at.bottom_right, at.bottom_left)
    )
    return _whole(first), _whole(second), _whole(third), _whole(fourth)


def _whole(point: tuple[float, float]) -> Point:
    return round(point[0]), round(point[1])


def _found(barcode: zxingcpp.Barcode, corners: tuple[Point, Point, Point, Point]) -> CodeFound:
    return CodeFound(_payload(barcode), barcode.symbology_identifier, str(barcode.format), corners)


def _payload(barcode: zxingcpp.Barcode) -> str:
    """The bytes as UTF-8 where they are; else the text in the character set that zxing-cpp makes out."""
    try:
        return bytes(barcode.bytes).decode()
    except UnicodeDecodeError:
        return str(barcode.text)
