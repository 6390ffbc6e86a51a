"""A company's own label forms: what may be saved, and that no pattern can hold the decoder up."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.labels.decode import decode
from fleet.labels.forms import (
    LONGEST_TEXT,
    PROBLEMS,
    BadForm,
    Example,
    LabelForm,
    compile_form,
    try_form,
)
from fleet.labels.reading import DecodeOptions, Reading

PATTERN = r"HX1;(?P<serial>[0-9]{5});(?P<part_number>[A-Z]+-[0-9]+)(?:;(?P<mac>[0-9A-F]{12}))?"
GOOD = Example("HX1;00017;AB-100", {"serial": "00017", "part_number": "AB-100"})
WITH_MAC = Example("HX1;00017;AB-100;001122AABBCC", {**GOOD.facts, "mac": "001122AABBCC"})


def _form(pattern=PATTERN, examples=(GOOD,), counter_examples=("HX2;00017;AB-100",)):
    return compile_form("HX labels", pattern, examples, counter_examples)


def test_a_form_reads_its_examples_and_the_decoder_uses_it():
    form = _form(examples=(GOOD, WITH_MAC))
    options = DecodeOptions(today=dt.date(2026, 11, 25), label_forms=(form,))
    reading = decode("HX1;00018;CD-2", "]Q1", options=options)
    assert isinstance(reading, Reading)
    assert reading.facts() == {"serial": "00018", "part_number": "CD-2"}
    assert (reading.standard, reading.confirm) == ("label-form", False)
    assert [(element.fact, element.position) for element in reading.elements] == [("serial", 4), ("part_number", 10)]


def test_a_standard_goes_before_a_form():
    form = _form(r"(?P<serial>0109520123456788.+)", [Example("0109520123456788X", {"serial": "0109520123456788X"})])
    options = DecodeOptions(today=dt.date(2026, 11, 25), label_forms=(form,))
    reading = decode("010952012345678821A", "]d2", options=options)
    assert isinstance(reading, Reading)
    assert (reading.standard, reading.serial) == ("gs1-element-string", "A")


def test_a_form_may_read_a_link_of_an_unlisted_domain():
    pattern = r"https://maker\.example/q/(?P<serial>[0-9]+)"
    form = _form(pattern, [Example("https://maker.example/q/00017", {"serial": "00017"})])
    options = DecodeOptions(today=dt.date(2026, 11, 25), label_forms=(form,))
    reading = decode("https://maker.example/q/00018", "]Q1", options=options)
    assert isinstance(reading, Reading)
    assert reading.serial == "00018"


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"pattern": ""}, "pattern_missing"),
        ({"pattern": "a" * 501}, "pattern_too_long"),
        ({"pattern": "(?P<serial>a"}, "pattern_wrong"),
        ({"pattern": r"(?P<serial>a)\1"}, "pattern_wrong"),
        ({"pattern": r"(?P<serial>a)(?=b)"}, "pattern_wrong"),
        ({"pattern": r"(?P<serial>[a-z]{900}[0-9]{900}\pL{900}\pL{900})"}, "pattern_too_large"),
        ({"pattern": r"(?P<colour>a)"}, "part_unknown"),
        ({"pattern": r"(?P<part_number>a)"}, "part_missing"),
        ({"pattern": r"(?P<serial>.*)"}, "part_unbounded"),
        ({"examples": ()}, "example_missing"),
        ({"counter_examples": ()}, "counter_example_missing"),
        ({"examples": (Example("HX1;17;AB-1", {"serial": "17"}),)}, "example_not_read"),
        ({"examples": (Example(GOOD.text, {"serial": "17"}),)}, "example_differs"),
        ({"counter_examples": ("HX1;00018;ZZ-9",)}, "counter_example_read"),
    ],
)
def test_what_cannot_be_saved(change, problem):
    with pytest.raises(BadForm) as refused:
        _form(**change)
    assert refused.value.problem == problem
    assert problem in PROBLEMS


def test_trying_shows_each_example_without_saving():
    form = LabelForm("HX labels", PATTERN, (GOOD, Example("nothing", {})), (GOOD.text,))
    assert [(trial.facts is not None, trial.problem) for trial in try_form(form)] == [
        (True, ""),
        (False, "example_not_read"),
        (True, "counter_example_read"),
    ]


@pytest.mark.parametrize(
    ("text", "pattern"),
    [
        ("S1 ", r"(?P<serial>S1 )"),
        ("M001122AABBC", r"M(?P<mac>[0-9A-F]+)"),
        ("G9520123456789 S1", r"G(?P<gtin>\d+) S(?P<serial>\d)"),
    ],
)
def test_a_part_that_cannot_be_what_it_is_called_is_not_read(text, pattern):
    assert LabelForm("x", pattern).read(text) is None


@pytest.mark.timeout(10)
@pytest.mark.parametrize("pattern", [r"(?P<serial>(a+)+b)", r"(?P<serial>(a|a)*b)", r"(?P<serial>(a*)*(a*)*(a*)*b)"])
def test_nested_repetitions_take_no_time(pattern):
    form = LabelForm("x", pattern)
    # A backtracking engine would still be at it when the test runner's time limit ends the run.
    assert form.read("a" * LONGEST_TEXT) is None
    assert form.read("a" * (LONGEST_TEXT + 1)) is None


@given(st.text(max_size=80))
def test_no_text_makes_a_form_fail(text):
    facts = LabelForm("x", r"(?P<serial>\S+)(?: (?P<mac>.+))?").read(text)
    assert facts is None or facts["serial"].isascii()
