"""The decoder against what others have published. Each test names its source."""

from __future__ import annotations

import datetime as dt
import json
import re
from importlib.resources import files

import pytest
import qrcode
from qrcode.constants import ERROR_CORRECT_M

from fleet.labels.decode import decode
from fleet.labels.gs1_table import APPLICATION_IDENTIFIERS
from fleet.labels.gs1_values import check_characters, check_digit, full_year, has_check_digit
from fleet.labels.reading import DecodeOptions, Refusal

OPTIONS = DecodeOptions(today=dt.date(2026, 11, 25))


@pytest.mark.parametrize(
    "number",
    [
        "6291041500213",  # GS1, "How to calculate a check digit manually" (gs1.org), worked example
        "9520123456788",  # GS1 Digital Link Standard, examples
        "00614141123452",  # EPC Tag Data Standard, examples
        "106141412345678908",  # GS1 DataMatrix Guideline, SSCC example
        "9506000134352",  # GS1 Digital Link Standard, examples
        "5901234123457",  # International Article Number, Wikipedia, worked example
        "4006381333931",  # the same page
        "73513537",  # the same page, EAN-8
        "96385074",  # the same page, EAN-8
        "036000291452",  # Universal Product Code, Wikipedia, worked example
        "123456789012345675",  # gs1-syntax-engine tests, GSRN
    ],
)
def test_published_check_digits(number):
    assert has_check_digit(number)
    assert [digit for digit in "0123456789" if has_check_digit(number[:-1] + digit)] == [number[-1]]
    assert check_digit(number[:-1]) == number[-1]


@pytest.mark.parametrize(
    "model",
    # GS1 Barcode Syntax Dictionary, tests of the alphanumeric check characters; the first is the example of the
    # General Specifications.
    [
        "1987654Ad4X4bL5ttr2310c2K",
        "12345_ABCDEFGHIJKLMCP",
        "12345_abcdefghijklmN3",
        "7907665Bm8v2AB",
        "99999zzzzzzzzzzzzzzzzzzT2",
    ],
)
def test_published_check_characters(model):
    assert check_characters(model[:-2]) == model[-2:]


def test_the_table_of_identifiers_agrees_with_biip():
    """biip 5 (MIT) carries GS1's own published list; ours was written from the syntax dictionary."""
    listed = json.loads(files("biip.gs1_application_identifiers").joinpath("_application_identifiers.json").read_text())
    assert {row["ai"] for row in listed} == set(APPLICATION_IDENTIFIERS)
    for row in listed:
        ours = APPLICATION_IDENTIFIERS[row["ai"]]
        spans = [re.findall(r"(\d+)", part) for part in row["format"].split("+", 1)[1].split("+")]
        if all(spans):  # A few formats name a lone sign without a length.
            assert sum(int(span[-1]) for span in spans) == ours.longest, row
        assert ours.predefined_length is not row["separator_required"], row


def test_no_identifier_starts_another():
    codes = set(APPLICATION_IDENTIFIERS)
    assert not [code for code in codes for length in range(2, len(code)) if code[:length] in codes]


def test_two_digit_years_reach_from_49_back_to_50_ahead():
    """GS1 General Specifications 7.12."""
    assert [full_year(digits, OPTIONS.today) for digits in (77, 99, 0, 26, 76)] == [1977, 1999, 2000, 2026, 2076]


def test_mil_std_130n_figure_8():
    """Encoded at idautomation.com; today's mandatory associations refuse it: (21) stands without (01)."""
    message = "[)>\x1e05\x1d800406141419999960MH80312\x1d21MH80312\x1d950614141\x1d24099999\x1e\x04"
    refusal = decode(message, "]d1", options=OPTIONS)
    assert isinstance(refusal, Refusal)
    assert (refusal.reason, refusal.identifier) == ("missing_key", "21")


def test_iso_18004_worked_example():
    """ISO/IEC 18004, Annex I: 01234567 in version 1-M. The data codewords are printed there; the mask is fixed at 2."""
    code = qrcode.QRCode(version=1, error_correction=ERROR_CORRECT_M, mask_pattern=2)
    code.add_data("01234567", optimize=0)
    code.make(fit=False)
    data = code.data_cache[:16]
    assert [f"{codeword:08b}" for codeword in data[:6]] == [
        "00010000",
        "00100000",
        "00001100",
        "01010110",
        "01100001",
        "10000000",
    ]
    assert data[6:] == [0b11101100, 0b00010001] * 5
    # The error correction codewords of the same annex.
    assert code.data_cache[16:] == [0xA5, 0x24, 0xD4, 0xC1, 0xED, 0x36, 0xC7, 0x87, 0x2C, 0x55]
    # Format information for level M with mask 2, section 7.9: 101111001111100, read down the first column.
    modules = code.get_matrix()
    margin = code.border
    column = [modules[margin + row][margin + 8] for row in (0, 1, 2, 3, 4, 5, 7, 8)]
    assert "".join("1" if dark else "0" for dark in reversed(column)) == "01111100"  # its last eight bits
