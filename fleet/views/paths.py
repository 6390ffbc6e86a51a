"""Site codes in addresses: ``<site_code:code>`` takes a code as people write it and hands on its eight symbols."""

from django.http import Http404
from django.urls import register_converter

from fleet.labels.sitecode import format_site_code, parse_site_code
from fleet.models import Member, Site
from fleet.queries.sites import site_by_code


class SiteCodeConverter:
    """Takes small letters, O for 0 and a missing hyphen; a code whose check symbol does not fit is no address."""

    regex = "[0-9A-Za-z-]{8,12}"

    def to_python(self, value: str) -> str:
        """The eight symbols that are meant."""
        code = parse_site_code(value)
        if code is None:
            raise ValueError
        return code

    def to_url(self, value: str) -> str:
        """The code as it is printed."""
        return format_site_code(value)


register_converter(SiteCodeConverter, "site_code")


def site_or_404(member: Member, code: str) -> Site:
    """The site with this code (or with this alias) that ``member`` may see."""
    site = site_by_code(member, code)
    if site is None:
        raise Http404
    return site
