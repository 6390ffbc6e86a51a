"""Codes in a photo: which there are, what they hold, where they stand. Uses zxing-cpp; no network, no files.

zxing-cpp is asked for the plain text and the bytes, never for its human-readable form, which has brackets and loses
the separators. Large photos are read at half scale first. Sharpening, turning and light-on-dark codes are tried only
where nothing was found. Linear codes are read twice, because a short check character lets a misreading through now
and then.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

import zxingcpp
from PIL import Image, ImageFilter

from fleet.labels.bars import barred_regions
from fleet.labels.pictures import (
    DamagedImage,
    ImageRefused,
    ImageTooLarge,
    NotAnImage,
    TooBusy,
    one_of_few,
    upright_grey,
)

__all__ = ["CodeFound", "DamagedImage", "ImageRefused", "ImageTooLarge", "NotAnImage", "TooBusy", "read_image"]


_SMALLEST_USEFUL = 350_000
_READ_WITHOUT_TURNING = 9.0
_LABEL_MARGIN = 0.4
_LARGEST_PART = 2_200_000
_ENLARGED_UP_TO = 400_000
_RESCUE_ANGLES = (45.0, 22.5, 67.5)

_MATRIX = (zxingcpp.BarcodeFormat.QRCode, zxingcpp.BarcodeFormat.MicroQRCode, zxingcpp.BarcodeFormat.DataMatrix)
_LINEAR = (
    zxingcpp.BarcodeFormat.Code128,
    zxingcpp.BarcodeFormat.Code39Std,
    zxingcpp.BarcodeFormat.EAN13,
    zxingcpp.BarcodeFormat.EAN8,
    zxingcpp.BarcodeFormat.ITF14,
)
_LINEAR_MARKS = ("]C", "]A", "]E", "]I")
Point = tuple[int, int]


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
    rescued: bool = False
    """Found only after sharpening or turning the picture."""


def read_image(data: bytes) -> list[CodeFound]:
    """All codes in a picture (JPEG, PNG, WebP or HEIC), from top to bottom.

    Raises :class:`ImageTooLarge`, :class:`NotAnImage`, :class:`DamagedImage` or :class:`TooBusy`.
    """
    with one_of_few():
        found = _codes(upright_grey(data))
    return sorted(found, key=lambda code: (min(y for _, y in code.position), code.position[0]))


def _codes(upright: Image.Image) -> list[CodeFound]:
    """The small picture in full, then every pixel for linear codes; the dear passes only where nothing was found."""
    scaled = [(float(factor), upright.reduce(factor)) for factor in _divisors(upright)] + [(1.0, upright)]
    found: dict[tuple[str, str], CodeFound] = {}
    for place, (factor, seen) in enumerate(scaled):
        formats = _LINEAR if place else (*_MATRIX, *_LINEAR)
        _add(found, _read_at(seen, upright, factor, *formats, try_downscale=not place))
    smaller_factor, smaller = scaled[-2] if len(scaled) > 1 else scaled[0]
    _add(found, _askew(upright, smaller, smaller_factor, found.values()))
    if found and len(scaled) > 1:
        _add(found, _beside(upright, found.values()))
    for factor, seen in scaled[1:]:
        if not found:
            _add(found, _read_at(seen, upright, factor, *_MATRIX))
    if not found:
        _add(found, _rescued(upright, smaller, smaller_factor))
    return list(found.values())


def _divisors(upright: Image.Image) -> list[int]:
    """By what to divide the size, smallest picture first: it is read quickly and shows blurred codes best."""
    return [divisor for divisor in (4, 2) if upright.width * upright.height / divisor**2 >= _SMALLEST_USEFUL]


def _add(found: dict[tuple[str, str], CodeFound], codes: Iterable[CodeFound]) -> None:
    for code in codes:
        found.setdefault((code.symbology, code.payload), code)


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


def _beside(upright: Image.Image, found: Iterable[CodeFound]) -> list[CodeFound]:
    """Small two-dimensional codes on the same label as those found, looked for at full size."""
    boxes = [_box(code.position) for code in found]
    left, top = min(box[0] for box in boxes), min(box[1] for box in boxes)
    right, bottom = max(box[2] for box in boxes), max(box[3] for box in boxes)
    margin = round(max(right - left, bottom - top) * _LABEL_MARGIN)
    origin = max(left - margin, 0), max(top - margin, 0)
    part = upright.crop((*origin, min(right + margin, upright.width), min(bottom + margin, upright.height)))

    def place(x: float, y: float) -> tuple[float, float]:
        return x + origin[0], y + origin[1]

    return [_found(barcode, _corners(barcode, place)) for barcode in _barcodes(part, *_MATRIX)]


def _askew(
    upright: Image.Image, smaller: Image.Image, shrink: float, found: Iterable[CodeFound], *, straight: bool = False
) -> Iterator[CodeFound]:
    """Linear codes that do not lie along rows or columns: each part with parallel bars is turned back and read.

    With ``straight``, those that lie along them, enlarged.
    """
    codes = [_box(code.position) for code in found]
    for region in barred_regions(smaller):
        left, top, right, bottom = (round(edge * shrink) for edge in region.box)
        if _lies_straight(region.angle) is not straight or any(
            _holds(box, left + right, top + bottom) for box in codes
        ):
            continue
        origin = max(left, 0), max(top, 0)
        part = upright.crop((*origin, min(right, upright.width), min(bottom, upright.height)))
        if part.width * part.height <= _LARGEST_PART:
            yield from _read_turned(part, region.angle, origin, 1.0, *_LINEAR, enlarge=straight)


def _lies_straight(angle: float) -> bool:
    """Near enough to rows or columns to have been read without turning."""
    return abs((angle + 45) % 90 - 45) < _READ_WITHOUT_TURNING


def _holds(box: tuple[int, int, int, int], twice_across: int, twice_down: int) -> bool:
    return box[0] <= twice_across / 2 <= box[2] and box[1] <= twice_down / 2 <= box[3]


def _box(corners: tuple[Point, ...]) -> tuple[int, int, int, int]:
    across, down = [x for x, _ in corners], [y for _, y in corners]
    return min(across), min(down), max(across), max(down)


def _rescued(upright: Image.Image, smaller: Image.Image, shrink: float) -> Iterator[CodeFound]:
    """Sharpened, enlarged, then turned, until something is found."""
    sharp = smaller.filter(ImageFilter.UnsharpMask(radius=3, percent=200, threshold=2))
    sharpened = _read_at(sharp, upright, shrink, try_invert=True)
    found = [replace(code, rescued=True) for code in sharpened]
    found = found or list(_askew(upright, smaller, shrink, (), straight=True))
    for angle in _RESCUE_ANGLES:
        found = found or list(_read_turned(smaller, angle, (0, 0), shrink, *_MATRIX))
    yield from found


def _read_turned(
    part: Image.Image,
    angle: float,
    origin: Point,
    shrink: float,
    *formats: zxingcpp.BarcodeFormat,
    enlarge: bool = False,
) -> Iterator[CodeFound]:
    turned = part.rotate(angle, Image.Resampling.BILINEAR, expand=True, fillcolor=128)
    size = part.size
    barcodes = _barcodes(turned, *formats)
    if enlarge and not barcodes and turned.width * turned.height <= _ENLARGED_UP_TO:
        turned = turned.resize((turned.width * 2, turned.height * 2), Image.Resampling.BICUBIC)
        size, shrink = (size[0] * 2, size[1] * 2), shrink / 2
        barcodes = _barcodes(turned, *formats)
    back = _turned_back(size, turned.size, angle, shrink, origin)
    for barcode in barcodes:
        if not _is_linear(barcode) or _reads_the_same_again(barcode, turned, _corners(barcode, _as_it_is)):
            yield replace(_found(barcode, _corners(barcode, back)), rescued=True)


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
