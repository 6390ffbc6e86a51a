"""Site codes against Crockford's Base32 page (https://www.crockford.com/base32.html)."""

from __future__ import annotations

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.labels import sitecode
from fleet.labels.sitecode import SYMBOLS, format_site_code, new_site_code, parse_site_code

codes = st.integers(min_value=0).map(lambda seed: new_site_code(Random(seed)))


def test_alphabet_leaves_out_what_is_mistaken():
    assert len(SYMBOLS) == 32
    assert not set("ILOU") & set(SYMBOLS)


def test_check_value_is_the_number_modulo_37():
    value = sum(digit * 32**power for digit, power in zip([1, 2, 3, 4, 5, 6, 7], range(6, -1, -1), strict=True))
    assert value % 37 == 11
    assert parse_site_code("1234567B") == "1234567B"  # Crockford's symbol for 11 is B
    assert [text for text in map("1234567".__add__, SYMBOLS) if parse_site_code(text)] == ["1234567B"]


@given(codes)
def test_every_drawn_code_reads_back(code):
    assert len(code) == 8
    assert set(code) <= set(SYMBOLS)
    assert parse_site_code(format_site_code(code)) == code


@given(codes, st.integers(0, 7), st.sampled_from(SYMBOLS))
def test_one_wrong_symbol_is_refused(code, place, symbol):
    wrong = code[:place] + symbol + code[place + 1 :]
    assert parse_site_code(wrong) == (code if wrong == code else None)


@given(codes, st.integers(0, 6))
def test_two_neighbours_swapped_are_refused(code, place):
    swapped = code[:place] + code[place + 1] + code[place] + code[place + 2 :]
    assert parse_site_code(swapped) == (code if swapped == code else None)


@given(codes)
def test_read_aloud_and_typed_with_lookalikes(code):
    typed = code.lower().replace("0", "o").replace("1", "l")
    assert parse_site_code(f"  {typed[:4]} \u2013 {typed[4:]}\n") == code
    assert parse_site_code(code.replace("1", "I")) == code


@pytest.mark.parametrize(
    "text",
    ["", "-", "1234567", "1234567B8", "1234567U", "1234567*", "U234567B", "1234567\uff22", "\u0661234567B", "0" * 1000],
)
def test_what_is_no_code(text):
    assert parse_site_code(text) is None


def test_drawing_again_when_the_check_symbol_is_awkward(monkeypatch):
    # "000000Z" has the value 31, an ordinary check symbol; "0000010" has 32, whose symbol is an asterisk.
    draws = iter(["0000010", "000000Z"])

    class Fixed(Random):
        def choices(self, population, weights=None, *, cum_weights=None, k=1):
            return list(next(draws))

    assert new_site_code(Fixed()) == "000000ZZ"
    assert sitecode.BODY_LENGTH == 7
