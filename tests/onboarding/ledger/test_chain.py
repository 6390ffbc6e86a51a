"""The ledger's arithmetic against published vectors.

Sources: RFC 8785 sections 3.2.2 and 3.2.3 (the serialisation and sorting samples) and appendix B (numbers); RFC 4231
section 4 (HMAC-SHA-256 test cases).
"""

import hashlib
import hmac
import json
from datetime import UTC, datetime, timedelta, timezone

import pytest

from onboarding.ledger.chain import (
    broken_commitments,
    canonical_json,
    commitments,
    entry_mac,
    parsed,
    seal,
    utc_text,
)

RFC_8785_SECTION_3_2_2 = r"""
{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}
"""


def test_rfc_8785_serialisation_sample():
    assert canonical_json(json.loads(RFC_8785_SECTION_3_2_2)) == (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )


def test_rfc_8785_sorts_by_utf_16_code_units():
    sample = json.loads(
        r'{"\u20ac":"Euro Sign","\r":"Carriage Return","\ufb33":"Hebrew Letter Dalet With Dagesh","1":"One",'
        r'"\ud83d\ude00":"Emoji: Grinning Face","\u0080":"Control","\u00f6":"Latin Small Letter O With Diaeresis"}'
    )
    assert list(json.loads(canonical_json(sample)).values()) == [
        "Carriage Return",
        "One",
        "Control",
        "Latin Small Letter O With Diaeresis",
        "Euro Sign",
        "Emoji: Grinning Face",
        "Hebrew Letter Dalet With Dagesh",
    ]


@pytest.mark.parametrize(
    ("bits", "text"),
    [  # RFC 8785 appendix B: IEEE 754 bits in hexadecimal, and the text expected
        ("0000000000000000", "0"),
        ("8000000000000000", "0"),
        ("0000000000000001", "5e-324"),
        ("7fefffffffffffff", "1.7976931348623157e+308"),
        ("4340000000000000", "9007199254740992"),
        ("4430000000000000", "295147905179352830000"),
        ("44b52d02c7e14af5", "9.999999999999997e+22"),
        ("44b52d02c7e14af6", "1e+23"),
        ("444b1ae4d6e2ef4f", "999999999999999900000"),
        ("3eb0c6f7a0b5ed8d", "0.000001"),
        ("41b3de4355555557", "333333333.33333343"),
        ("becbf647612f3696", "-0.0000033333333333333333"),
        ("43143ff3c1cb0959", "1424953923781206.2"),
    ],
)
def test_rfc_8785_numbers(bits: str, text: str):
    import struct

    [number] = struct.unpack(">d", bytes.fromhex(bits))
    assert canonical_json({"n": number}) == f'{{"n":{text}}}'


@pytest.mark.parametrize("number", [float("nan"), float("inf"), 2**53 + 2])
def test_what_json_cannot_say_is_refused(number):
    with pytest.raises(ValueError):  # noqa: PT011  # rfc8785's own errors are all ValueErrors
        canonical_json({"n": number})


@pytest.mark.parametrize(
    ("key", "data", "mac"),
    [  # RFC 4231 section 4.3: the case whose key and data are text
        ("Jefe", "what do ya want for nothing?", "5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843"),
    ],
)
def test_rfc_4231_through_the_chain(key: str, data: str, mac: str):
    assert entry_mac(key, "", data) == mac
    assert entry_mac(key, data[:10], data[10:]) == mac


@pytest.mark.parametrize(
    ("key", "data", "mac"),
    [  # RFC 4231 sections 4.2, 4.4 and 4.7 on the primitive itself
        (b"\x0b" * 20, b"Hi There", "b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7"),
        (b"\xaa" * 20, b"\xdd" * 50, "773ea91e36800e46854db8ebd09181a72959098b3ef8c122d9635514ced565fe"),
        (
            b"\xaa" * 131,
            b"Test Using Larger Than Block-Size Key - Hash Key First",
            "60e431591ee0b67f0d8a26aacbf5b77f8e0bc6213728c5140546040f0ee37f54",
        ),
    ],
)
def test_rfc_4231_on_the_primitive(key: bytes, data: bytes, mac: str):
    assert hmac.new(key, data, hashlib.sha256).hexdigest() == mac


def test_times_are_utc_with_microseconds():
    lisbon_summer = timezone(timedelta(hours=1))
    assert utc_text(datetime(2026, 7, 1, 13, 0, 0, 5, tzinfo=lisbon_summer)) == "2026-07-01T12:00:00.000005Z"
    assert utc_text(datetime(2026, 1, 1, tzinfo=UTC)) == "2026-01-01T00:00:00.000000Z"
    with pytest.raises(ValueError, match="time zone"):
        utc_text(datetime(2026, 1, 1))


def test_commitments_tell_a_change_and_accept_an_erasure():
    sealed = seal({"name": "Inês Exemplo", "origin": "192.0.2.7", "reference": ""})
    assert set(sealed) == {"name", "origin"}
    committed = commitments(sealed)
    kept = {field: list(pair) for field, pair in sealed.items()}
    assert broken_commitments(committed, kept, []) == []
    assert broken_commitments(committed, {**kept, "name": [kept["name"][0], "Rui Exemplo"]}, []) == ["name"]
    assert broken_commitments(committed, {**kept, "note": ["00", "x"]}, []) == ["note"]
    without = {"name": kept["name"]}
    assert broken_commitments(committed, without, []) == ["origin"]
    assert broken_commitments(committed, without, ["origin"]) == []


def test_the_same_value_twice_has_different_commitments():
    assert commitments(seal({"name": "Rui"})) != commitments(seal({"name": "Rui"}))


@pytest.mark.parametrize("text", ['{"b":1,"a":2}', '{"a": 1}', "[]", "no JSON"])
def test_only_canonical_objects_are_read_back(text: str):
    with pytest.raises(ValueError):  # noqa: PT011  # json's own error is a ValueError too
        parsed(text)
