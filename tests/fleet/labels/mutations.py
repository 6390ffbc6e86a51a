"""Labels with one to three faults put in, and an independent judge of what may still be accepted.

The judge shares no code with the decoder: it adds up check digits its own way and knows lengths and characters of the
few facts that a reading gives.
"""

from __future__ import annotations

import datetime as dt
import string
from random import Random

from fleet.labels.decode import decode
from fleet.labels.reading import DecodeOptions, Reading

OPTIONS = DecodeOptions(today=dt.date(2026, 11, 25))
SET_82 = set(string.ascii_letters + string.digits + "!\"%&'()*+,-./:;<=>?_")
SOUND = (
    ("010952012345678811240131240AB-100\x1d21SN0001", "]d2"),
    ("8006095201234567880102\x1d21SN77\x1d10L1", "]d2"),
    ("800309520123456788A17", "]C1"),
    ("8010061414112ABC\x1d801112", "]d2"),
    ("9520123456788", "]E0"),
    ("05901234123457", "]I1"),
    ("https://id.gs1.org/01/09520123456788/10/L1/21/SN0001?11=240131&240=AB%2F1", "]Q1"),
    ("(01)09520123456788(11)240131(21)SN0001", None),
    ("[)>\x1e05\x1d0109520123456788\x1d21SN0001\x1e\x04", "]d1"),
    ("[)>\x1e06\x1d17V1ABC2\x1d1PAB-100\x1d16D20240131\x1dSSN0001\x1e\x04", "]d1"),
    ("urn:epc:id:sgtin:0614141.112345.400", "]Q1"),
    ("https://maker.example/?.1P=AB&.S=SN0001", "]Q1"),
    ("SN:0001;PN:AB;GTIN:9520123456788", "]Q1"),
    ('{"sn":"0001","gtin":"09520123456788","mac":"00:11:22:AA:BB:CC"}', "]Q1"),
    ("00:11:22:AA:BB:CC", None),
    ("SN0001", "]C0"),
)
_FAULTS: list[str] = [
    *string.printable,
    "\x1d",
    "\x1e",
    "\x04",
    "\x00",
    "\x7f",
    "é",
    "\u202e",
    "\ufffd",
    "００",
    "%1D",
    "%C3%A9",
    "<GS>",
]


def run(count: int, seed: int) -> int:
    """Decode ``count`` damaged labels; return how many were still accepted. Raises AssertionError on a wrong one."""
    random = Random(seed)
    accepted = 0
    for _ in range(count):
        payload, symbology = random.choice(SOUND)
        damaged = payload
        for _ in range(random.randint(1, 3)):
            damaged = _with_fault(damaged, random)
        result = decode(damaged, symbology, options=OPTIONS)
        if isinstance(result, Reading):
            accepted += 1
            judge(damaged, symbology, result)
    return accepted


def _with_fault(text: str, random: Random) -> str:
    place = random.randrange(len(text) + 1)
    kind = random.randrange(4)
    if kind == 0:
        return text[:place] + random.choice(_FAULTS) + text[place:]
    if kind == 1:
        return text[:place] + text[place + 1 :]
    if kind == 2:
        return text[:place] + random.choice(_FAULTS) + text[place + 1 :]
    return text[:place] + text[place : place + 2][::-1] + text[place + 2 :]


def judge(payload: str, symbology: str | None, reading: Reading) -> None:
    """Whether a reading can be right, whatever the decoder thought."""
    where = (payload, symbology, reading)
    for value in (reading.serial, reading.part_number, reading.batch, reading.asset_id):
        assert value is None or (value and value.isascii() and value.isprintable() and len(value) <= 255), where
    assert reading.gtin is None or _fits(reading.gtin, 14), where
    assert reading.mac is None or (len(reading.mac) == 12 and not set(reading.mac) - set("0123456789ABCDEF")), where
    if reading.asset_id and reading.asset_id.startswith("8003:"):
        assert _fits(reading.asset_id[6:19], 13), where
    if reading.standard.startswith(("gs1", "epc")):
        _judge_gs1(reading, where)
    if reading.standard == "gs1-element-string" and not reading.confirm:
        _judge_completeness(payload, reading, where)
    if reading.standard == "plain":
        assert reading.confirm, where
        text = payload.removeprefix("\ufeff").strip(" \t\r\n")
        assert reading.serial in {text, text[3:] if text[:2] == (symbology or text)[:2] else text}, where


def _judge_gs1(reading: Reading, where: object) -> None:
    longest = {"21": 20, "10": 20, "240": 30, "8010": 30, "8011": 12}
    for element in reading.elements:
        assert not set(element.value) - SET_82 or element.identifier == "8010", where
        assert 1 <= len(element.value) <= longest.get(element.identifier, 90), where
        if element.identifier in {"11", "13", "15", "17"}:
            day = element.value[4:]
            dt.date(2000 + int(element.value[:2]) % 100, int(element.value[2:4]), int(day) or 1)
    if any(element.identifier == "21" for element in reading.elements):
        assert reading.gtin, where


def _judge_completeness(payload: str, reading: Reading, where: object) -> None:
    """Nothing was left out or made up: the elements put together again are the payload."""
    again = "".join(element.identifier + element.value for element in reading.elements)
    assert "".join(again.split("\x1d")) == payload.strip(" \t\r\n\ufeff").replace("\x1d", ""), where


def _fits(digits: str, length: int) -> bool:
    """The weighted sum with its check digit is a multiple of ten."""
    if len(digits) != length or set(digits) - set(string.digits):
        return False
    values = [int(digit) for digit in digits[::-1]]
    return (sum(values[0::2]) + 3 * sum(values[1::2])) % 10 == 0
