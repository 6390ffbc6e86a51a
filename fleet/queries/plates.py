"""What is known of printed plates: for the site's own people, and for whoever scans one on a wall."""

from fleet.labels.sitecode import CODE_LENGTH, parse_site_code
from fleet.models import PrintedPlate, Site


def plate_of(site: Site) -> PrintedPlate | None:
    """The plate that was printed with the site's code."""
    return PrintedPlate.objects.filter(code=site.code).first()


def scanned_plate(text: str) -> PrintedPlate | None:
    """The plate that bears ``text``, with its company.

    The one read of what strangers ask. It is made for every text, a code or not, so that neither time nor queries tell
    which codes were given.
    """
    code = parse_site_code(text) or text[:CODE_LENGTH]
    return PrintedPlate.objects.select_related("company").filter(code=code.replace("\0", "")).first()
