"""Checked against the IANA time zone database's zone.tab (principal location of each zone), as the PyPI package
``tzdata`` ships it."""

import re
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import tzdata

from fleet.zones import zone_of

# Two clocks are kept in Xinjiang; the boundaries that tzfpy carries give the official one.
EXCEPTIONS = {"Asia/Urumqi": "Asia/Shanghai"}
A_YEAR = [datetime(2026, 1, 1) + timedelta(days=day) for day in range(365)]


def principal_locations():
    table = Path(tzdata.__file__).parent / "zoneinfo" / "zone.tab"
    for line in table.read_text(encoding="utf-8").splitlines():
        if line and not line.startswith("#"):
            _countries, place, name = line.split("\t")[:3]
            latitude, longitude = re.fullmatch(r"([+-]\d{4}(?:\d\d)?)([+-]\d{5}(?:\d\d)?)", place).groups()
            yield name, degrees(latitude, 2), degrees(longitude, 3)


def degrees(text, whole):
    sign, digits = text[0], text[1:]
    value = int(digits[:whole]) + int(digits[whole : whole + 2]) / 60 + int(digits[whole + 2 :] or 0) / 3600
    return -value if sign == "-" else value


def same_clock(one, other):
    return all(ZoneInfo(one).utcoffset(day) == ZoneInfo(other).utcoffset(day) for day in A_YEAR)


def test_each_zones_principal_location_gets_it_or_one_with_the_same_clock_all_year():
    places = list(principal_locations())
    found = {name: zone_of(latitude, longitude) for name, latitude, longitude in places}
    strays = {name: zone for name, zone in found.items() if zone is None or not same_clock(name, zone)}
    assert len(places) > 400
    assert strays == EXCEPTIONS


def test_no_zone_is_guessed_in_the_open_sea():
    assert zone_of(0, -30) is None
