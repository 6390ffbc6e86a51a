"""Serials that a typed one may stand for."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.labels.nearmiss import WHY, folded, keys_within_one_edit, near_misses

serials = st.text("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZabc-/.", min_size=1, max_size=20)


@pytest.mark.parametrize(
    ("typed", "known", "why"),
    [
        ("SN00017", "SN00017", "same"),
        ("sn00017", "SN00017", "case"),
        ("SN 000-17", "SN00017", "punctuation"),
        ("17455", "00017455", "zeros"),
        ("SNOOOI7", "SN00017", "alike"),
        ("5N00017", "SN00017", "alike"),
        ("SN8BZ2S", "SNB8225", "alike"),
        ("SN00018", "SN00017", "one_edit"),
        ("SN0017", "SN00017", "one_edit"),
        ("SN000177", "SN00017", "one_edit"),
        ("SN00071", "SN00017", "swapped"),
    ],
)
def test_each_kind_of_slip(typed, known, why):
    (miss,) = near_misses(typed, [known, "XQ94417"])
    assert (miss.serial, miss.why) == (known, why)


@pytest.mark.parametrize(("typed", "known"), [("SN00017", "SN00099"), ("12", "13"), ("", "SN1"), ("--", "SN1")])
def test_what_is_too_far_away(typed, known):
    assert near_misses(typed, [known]) == []


def test_ranked_by_how_little_differs():
    known = ["SN00018", "sn00017", "SN-00017", "SNO0017", "SN00071"]
    assert [miss.why for miss in near_misses("SN00017", known)] == [
        "case",
        "punctuation",
        "alike",
        "one_edit",
        "swapped",
    ]
    assert len(near_misses("SN00017", known, most=2)) == 2


@given(serials)
def test_folding_is_stable_and_never_longer(serial):
    key = folded(serial)
    assert folded(key) == key
    assert 1 <= len(key) <= len(serial)


@given(serials, st.data())
def test_the_keys_to_look_up_find_every_one_edit(serial, data):
    place = data.draw(st.integers(0, len(serial) - 1))
    other = serial[:place] + data.draw(st.sampled_from("0123456789ABCXYZ")) + serial[place + 1 :]
    if near_misses(serial, [other]):
        assert folded(other) in set(keys_within_one_edit(serial))


def test_every_reason_has_its_words():
    assert all(sentence.endswith(".") for sentence in WHY.values())
