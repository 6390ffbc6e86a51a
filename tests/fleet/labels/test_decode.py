"""What the decoder says about a label beyond its facts: where, why, and how sure."""

from __future__ import annotations

import datetime as dt

import pytest

from fleet.labels import decode as decoder
from fleet.labels.decode import decode, decode_label
from fleet.labels.reading import REASONS, STANDARDS, WARNINGS, DecodeOptions, Identity, Reading, Refusal

OPTIONS = DecodeOptions(today=dt.date(2026, 11, 25), link_domains=frozenset({"id.maker.example"}))
ELEMENTS = "010952012345678811240100240AB-100\x1d21SN0001"


def _read(payload, symbology=None):
    result = decode(payload, symbology, options=OPTIONS)
    assert isinstance(result, Reading)
    return result


def _refused(payload, symbology=None):
    result = decode(payload, symbology, options=OPTIONS)
    assert isinstance(result, Refusal)
    return result


def test_each_element_says_what_it_gave_and_where_it_stands():
    reading = _read(ELEMENTS, "]d2")
    assert [(e.identifier, e.fact, e.value, e.position) for e in reading.elements] == [
        ("01", "gtin", "09520123456788", 0),
        ("11", "date", "240100", 16),
        ("240", "part_number", "AB-100", 24),
        ("21", "serial", "SN0001", 34),
    ]
    assert reading.date == dt.date(2024, 1, 31)
    assert all(element.title for element in reading.elements)
    assert reading.standard in STANDARDS


def test_places_count_in_the_payload_as_given():
    payload = "\ufeff  ]d201095201234567882112{GS}10LOT7"
    reading = _read(payload)
    assert [payload[e.position :].startswith(e.identifier) for e in reading.elements] == [True, True, True]
    refusal = _refused("\ufeff  ]d201095201234567882112{GS}10LO#7")
    assert refusal.position is not None
    assert "\ufeff  ]d201095201234567882112{GS}10LO#7"[refusal.position] == "#"


@pytest.mark.parametrize(
    ("payload", "symbology", "identity"),
    [
        (ELEMENTS, "]d2", ("gs1-gtin", "09520123456788", "SN0001")),
        ("8010061414112ABC\x1d801112", "]d2", ("gs1-cpid", "061414112ABC", "12")),
        ("80041234ABC", "]d2", ("gs1-asset", "", "8004:1234ABC")),
        ("800309520123456788A1", "]d2", ("gs1-asset", "", "8003:09520123456788A1")),
        ("800309520123456788", "]d2", None),
        ("0109520123456788", "]d2", None),
        ("[)>\x1e06\x1d17V1ABC2\x1dS5\x1e\x04", "]d1", ("cage", "1ABC2", "5")),
        ("[)>\x1e06\x1d18S1ABC25\x1e\x04", "]d1", ("cage", "1ABC2", "5")),
        ("[)>\x1e06\x1d18VLEXYZ\x1dS5\x1e\x04", "]d1", ("18V", "LEXYZ", "5")),
        ("[)>\x1e06\x1d25SLEXYZ5\x1e\x04", "]d1", ("25S", "", "25S:LEXYZ5")),
        ("[)>\x1e06\x1dS5\x1e\x04", "]d1", ("", "", "5")),
        ("https://x.example/?.S=5", "]Q1", ("domain", "x.example", "5")),
        ("https://ID.Maker.example/Ab/5", "]Q1", ("domain", "id.maker.example", "Ab/5")),
        ("SN0001", None, ("", "", "SN0001")),
    ],
)
def test_identity(payload, symbology, identity):
    assert _read(payload, symbology).identity == (Identity(*identity) if identity else None)


@pytest.mark.parametrize(
    ("payload", "symbology", "place"),
    [
        ("010952012345678921A", "]d2", 15),
        ("010952012345678821AB#C", "]d2", 20),
        ("010952012345678821A\x1d\x1d10L", "]d2", 20),
        ("https://id.gs1.org/01/09520123456788/21/A%ZZ", "]Q1", 41),
        ("https://id.gs1.org/01/09520123456788/10/A/22/B", "]Q1", 42),
        ("[)>\x1e06\x1d1PAB\x1dabc\x1e\x04", "]d1", 12),
        ("SN:1;SN:2", "]Q1", 5),
        ("SN\x07", None, 2),
    ],
)
def test_a_refusal_names_the_place(payload, symbology, place):
    assert _refused(payload, symbology).position == place


@pytest.mark.parametrize(
    "payload",
    ["WIFI:T:WPA;S:roof;P:hunter2hunter2;;", "BEGIN:VCARD\nFN:Ana Roque\nEND:VCARD", "otpauth://totp/a?secret=B"],
)
def test_nothing_of_a_secret_payload_leaves_the_decoder(payload, caplog):
    caplog.set_level(0)
    for given in (payload, f"]Q1{payload}", payload.encode()):
        refusal = _refused(given)
        assert refusal.secret
        assert refusal.payload_class in {"wifi", "contact", "secret"}
        assert refusal.payload_length == len(given)
        assert refusal.position is None
        assert not any(word in repr(refusal) for word in ("hunter2", "Ana", "secret=B", "roof"))
    assert not caplog.records


def test_a_secret_beside_a_device_leaves_no_trace():
    reading = decode_label([("WIFI:T:WPA;S:roof;P:hunter2;;", "]Q1"), (ELEMENTS, "]d2")], options=OPTIONS)
    assert isinstance(reading, Reading)
    assert "hunter2" not in repr(reading)
    assert reading.warnings == ("code_ignored",)


def test_a_conflict_offers_the_readings_to_choose_from():
    refusal = decode_label([(ELEMENTS, "]d2"), ("SN0002", "]C0")], options=OPTIONS)
    assert isinstance(refusal, Refusal)
    assert [candidate.serial for candidate in refusal.candidates] == ["SN0001", "SN0002"]


def test_elements_of_a_label_say_which_code_they_stood_in():
    reading = decode_label([("9520123456788", "]E0"), ("SN0001", "]C0")], options=OPTIONS)
    assert isinstance(reading, Reading)
    assert [(element.code, element.fact) for element in reading.elements] == [(0, "gtin"), (1, "serial")]


def test_links_are_never_fetched(monkeypatch):
    def no_network(*args, **kwargs):
        pytest.fail("the decoder opened a connection")

    monkeypatch.setattr("socket.socket", no_network)
    _refused("https://maker.example/manual.pdf", "]Q1")
    _read("https://id.gs1.org/01/09520123456788", "]Q1")


def test_the_package_is_pure():
    assert not [name for name in vars(decoder) if "django" in name]


def test_every_word_for_people_is_a_sentence():
    assert all(text.endswith(".") and "!" not in text for text in [*REASONS.values(), *WARNINGS.values()])


def test_the_longest_payload_and_one_more():
    assert _refused("A" * 2953).reason == "bad_length"
    assert _refused("A" * 2954).reason == "too_long"
    assert _refused("é" * 1477).reason == "too_long"
    assert _refused("\ud800").reason == "bad_encoding"
