"""The codes in a picture that somebody sent."""

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext as _

from api.problems import Busy, TooLarge, Unprocessable
from fleet.labels.optical import ImageRefused, ImageTooLarge, TooBusy, read_image

MOST_CODES = 8


def codes_of_picture(upload: UploadedFile) -> tuple[tuple[str, str], ...]:
    """Payload and symbology identifier of each code in the picture. Raises TooLarge, Unprocessable, Busy."""
    if (upload.size or 0) > settings.UPLOAD_MAX_BYTES:
        raise TooLarge(_(ImageTooLarge.message))
    try:
        found = read_image(upload.read())
    except ImageTooLarge as refused:
        raise TooLarge(_(refused.message)) from refused
    except TooBusy as refused:
        raise Busy(_(refused.message)) from refused
    except ImageRefused as refused:
        raise Unprocessable(_(refused.message), "not_a_picture") from refused
    if not found:
        raise Unprocessable(
            _("No code was found in the picture. Nothing was kept. Take it closer, with light from the side."),
            "no_code_found",
        )
    return tuple((code.payload, code.symbology) for code in found[:MOST_CODES])
