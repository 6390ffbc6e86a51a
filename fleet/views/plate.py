"""The QR code of a site's plate: the base URL and ``/s/CODE``, level Q, quiet zone of 4 modules (ISO/IEC 18004)."""

import qrcode
from django.conf import settings
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from fleet.labels.sitecode import format_site_code

QUIET_ZONE = 4


def plate_address(code: str) -> str:
    """What a plate's code holds."""
    return str(settings.BASE_URL) + reverse(settings.PLATE_PAGE, args=[format_site_code(code)])


def plate_modules(code: str) -> list[list[bool]]:
    """The dark modules of the plate's QR code, without its quiet zone."""
    picture = qrcode.QRCode(error_correction=qrcode.constants.ERROR_CORRECT_Q, border=0)
    picture.add_data(plate_address(code))
    picture.make(fit=True)
    return [[bool(module) for module in row] for row in picture.get_matrix()]


def plate_svg(code: str) -> SafeString:
    """The QR code as one SVG element, one user unit a module; it holds nothing but our own digits and letters."""
    modules = plate_modules(code)
    side = len(modules) + 2 * QUIET_ZONE
    strokes = "".join(_row(modules[y], y) for y in range(len(modules)))
    return mark_safe(  # noqa: S308  # only numbers go in
        f'<svg class="qr" viewBox="0 0 {side} {side}" role="img" aria-hidden="true" shape-rendering="crispEdges">'
        f'<rect width="{side}" height="{side}" fill="#fff"/><path fill="#000" d="{strokes}"/></svg>'
    )


def _row(row: list[bool], y: int) -> str:
    """One path piece for each run of dark modules."""
    pieces, start = [], None
    for x, dark in enumerate([*row, False]):
        if dark and start is None:
            start = x
        elif not dark and start is not None:
            pieces.append(f"M{start + QUIET_ZONE} {y + QUIET_ZONE}h{x - start}v1h-{x - start}z")
            start = None
    return "".join(pieces)
