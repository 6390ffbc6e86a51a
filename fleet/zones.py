"""The IANA time zone of a place, from its coordinates (tzfpy, which carries the time zone boundaries)."""

from decimal import Decimal
from zoneinfo import available_timezones

import tzfpy


def zone_of(latitude: Decimal | float, longitude: Decimal | float) -> str | None:
    """The name of the zone at this place (degrees north and east), or None at sea or where none is known."""
    name = tzfpy.get_tz(float(longitude), float(latitude))
    return name if name and name in available_timezones() and not name.startswith("Etc/") else None
