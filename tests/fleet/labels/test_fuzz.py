"""No payload crashes the decoder, and no damaged one is accepted with a wrong check digit, length or character.

The long run of 100,000 mutations is in ``tests/benchmarks/labels.py``.
"""

from __future__ import annotations

import json
import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.labels.decode import decode, decode_label
from fleet.labels.jsonlines import answer
from fleet.labels.reading import REASONS, STANDARDS, Reading, Refusal
from tests.fleet.labels.mutations import OPTIONS, SOUND, judge, run

symbologies = st.sampled_from(
    [None, "", "]C0", "]C1", "]d1", "]d2", "]Q1", "]Q3", "]E0", "]E4", "]I1", "]d3", "]X9", "?"]
)
PIECES = """01 09520123456788 21 ABC \x1d \x1e \x04 [)> 06 05 https:// a.example / ? = & .S % 2 (01) (21) SN : ; { }
"sn" ]d2 \ufeff é urn:epc:id:sgtin:"""
pieces = st.sampled_from([*re.split("[ \n]", PIECES), " "])
payloads = st.one_of(st.text(max_size=60), st.lists(pieces, max_size=12).map("".join), st.binary(max_size=60))


def _sane(result):
    if isinstance(result, Refusal):
        assert result.reason in REASONS
        assert result.payload_length >= 0
    else:
        assert isinstance(result, Reading)
        assert result.standard in STANDARDS
        assert result.facts()


@settings(max_examples=600, deadline=None)
@given(payloads, symbologies)
def test_any_payload(payload, symbology):
    result = decode(payload, symbology, options=OPTIONS)
    _sane(result)
    if isinstance(payload, str) and isinstance(result, Refusal) and result.position is not None:
        assert 0 <= result.position <= len(payload)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(payloads, symbologies), max_size=4))
def test_any_label(codes):
    _sane(decode_label(codes, options=OPTIONS))


@settings(max_examples=200, deadline=None)
@given(
    st.one_of(
        st.text(max_size=60), st.recursive(st.none() | st.integers() | st.text(max_size=5), st.lists).map(json.dumps)
    )
)
def test_any_line(line):
    assert set(answer(line, OPTIONS)) >= {"id"}


@pytest.mark.parametrize(("payload", "symbology"), SOUND)
def test_sound_labels_are_read_and_pass_the_judge(payload, symbology):
    result = decode(payload, symbology, options=OPTIONS)
    assert isinstance(result, Reading)
    judge(payload, symbology, result)


def test_mutations():
    accepted = run(4_000, seed=7)
    assert 0 < accepted < 3_000  # Some faults leave a sound label; most do not.


def test_the_judge_itself_finds_faults():
    reading = decode(*SOUND[0], options=OPTIONS)
    assert isinstance(reading, Reading)
    for payload in (SOUND[0][0] + "X", SOUND[0][0][:-1]):
        with pytest.raises(AssertionError):
            judge(payload, "]d2", reading)
