"""The list of breaks fits the program as it is: what is to be broken is there once, and so is the test."""

import re

import pytest

from tests.prove.__main__ import ROOT, Break, breaks

LEAST = 15


def test_the_list_is_long_enough_and_says_each_promise_once():
    promises = [each.promise for each in breaks()]
    assert len(promises) >= LEAST
    assert len(set(promises)) == len(promises)


@pytest.mark.parametrize("each", breaks(), ids=lambda each: each.promise)
def test_a_break_finds_what_it_breaks_and_its_test(each: Break):
    each.applied((ROOT / each.file).read_text(encoding="utf-8"))
    file, _, name = each.test.partition("::")
    assert not name or re.search(rf"^def {name.partition('[')[0]}\(", (ROOT / file).read_text(encoding="utf-8"), re.M)


def test_a_break_whose_place_has_moved_is_a_fault():
    broken = Break("a promise", "a.py", "there", "gone", "tests")
    assert broken.applied("is there") == "is gone"
    for text in ("is not", "there and there"):
        with pytest.raises(LookupError):
            broken.applied(text)
