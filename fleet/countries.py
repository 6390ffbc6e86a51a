"""The countries to choose from: codes of ISO 3166-1, with the usual English names that go with the time zones.

Read from ``iso3166.tab`` of the IANA time zone database, which the tzdata package carries.
"""

from functools import cache
from importlib.resources import files

from django.utils.translation import gettext


@cache
def country_names() -> dict[str, str]:
    """English name by two-letter code."""
    table = files("tzdata").joinpath("zoneinfo/iso3166.tab").read_text(encoding="utf-8")
    return {line[:2]: line[3:] for line in table.splitlines() if line and not line.startswith("#")}


def countries() -> list[tuple[str, str]]:
    """Code and name in the reader's language, by name."""
    named = ((code, gettext(name)) for code, name in country_names().items())
    return sorted(named, key=lambda country: country[1].casefold())
