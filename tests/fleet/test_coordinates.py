"""Coordinates in the forms in which people paste them; the same place each time unless the case says otherwise."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.coordinates import BadPlace, Place, read_place

PLACE = Place(Decimal("38.571300"), Decimal("-7.913600"))


@pytest.mark.parametrize(
    "text",
    [
        "38.5713, -7.9136",
        "38.5713,-7.9136",
        "  (38.5713  -7.9136) ",
        "+38.5713; −7.9136",
        "38,5713; -7,9136",
        "38,5713 -7,9136",
        "38,5713, -7,9136",
        "38.5713 N, 7.9136 W",
        "38.5713° N 7.9136° W",
        "N 38.5713 W 7.9136",
        "7.9136 W, 38.5713 N",
        "38°34'16.68\" -7°54'48.96\"",
        "38,5713° N; 7,9136° W",
        "38°34'16.68\"N 7°54'48.96\"W",
        "38° 34′ 16.68″ N, 7° 54′ 48.96″ W",
        "38º34’16,68” N 7º54’48,96” W",
        "38 34 16.68 N 7 54 48.96 W",
        "38°34.278'N 7°54.816'W",
        "N 38° 34.278' W 7° 54.816'",
        "geo:38.5713,-7.9136",
        "geo:38.5713,-7.9136;u=8",
        "geo:38.5713,-7.9136,240;crs=wgs84",
        "geo:0,0?q=38.5713,-7.9136(Casa)",
        "GEO:38.5713,-7.9136?z=17",
        "https://maps.example/?q=38.5713,-7.9136",
        "https://maps.example/search/?api=1&query=38.5713%2C-7.9136",
        "https://maps.example/dir/?api=1&destination=38.5713,-7.9136",
        "https://maps.example/?ll=38.5713,-7.9136&z=17",
        "https://maps.example/?mlat=38.5713&mlon=-7.9136#map=12/38.6/-7.9",
        "https://maps.example/?lat=38.5713&lng=-7.9136",
        "https://maps.example/#map=17/38.5713/-7.9136",
        "https://maps.example/#17/38.5713/-7.9136",
        "https://maps.example/@38.5713,-7.9136,17z",
        "https://maps.example/place/Casa/@38.6,-7.9,17z/data=!3m1!4b1!8m2!3d38.5713!4d-7.9136",
        "https://maps.example/search/38.5713,+-7.9136",
        "https://maps.example/?cp=38.5713~-7.9136",
        "https://maps.example/?q=loc:38.5713,-7.9136",
    ],
)
def test_the_place_is_read_from_every_usual_form(text: str):
    assert read_place(text) == PLACE


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "no_coordinates"),
        ("Rua Clara 12", "no_coordinates"),
        ("38.5713", "no_coordinates"),
        ("https://short.example/aB3dE", "no_coordinates"),
        ("https://maps.example/?q=Rua+Clara+12", "no_coordinates"),
        ("geo:here", "no_coordinates"),
        ("38,5713", "unclear"),
        ("38.5713 N, 7.9136 N", "unclear"),
        ("38.5° 34' N 7.9° W", "unclear"),
        ("38.5713 N, 7.9136", "no_coordinates"),
        ("-38.5713 S, 7.9136 W", "unclear"),
        ("95, 8", "out_of_range"),
        ("38.5, 181", "out_of_range"),
        ("geo:95,8", "out_of_range"),
        ("38°60'00\"N 7°54'48\"W", "out_of_range"),
        ("x" * 2001, "no_coordinates"),
        ("http://[bad/?q=1,2", "no_coordinates"),
    ],
)
def test_what_is_no_place_says_why(text: str, reason: str):
    with pytest.raises(BadPlace) as refused:
        read_place(text)
    assert refused.value.reason == reason


@given(st.text(max_size=80))
def test_any_text_is_a_place_within_range_or_is_refused(text: str):
    try:
        place = read_place(text)
    except BadPlace:
        return
    assert abs(place.latitude) <= 90
    assert abs(place.longitude) <= 180


@given(
    st.decimals(-90, 90, places=6, allow_nan=False, allow_infinity=False),
    st.decimals(-180, 180, places=6, allow_nan=False, allow_infinity=False),
)
def test_a_place_reads_back_as_it_is_written(north: Decimal, east: Decimal):
    place = Place(north, east)
    assert read_place(str(place)) == place


def test_south_and_west_are_negative():
    assert read_place("33.5 S 70.25 W") == Place(Decimal("-33.5"), Decimal("-70.25"))
