"""Every act stands in the table of tests/acts.py, and puts back what it was handed."""

from tests.acts import ACTS, ELSEWHERE, every_act


def test_every_act_is_in_the_table():
    named = {name.partition(" (")[0] for name in ACTS} | set(ELSEWHERE)
    assert set(every_act()) - named == set()
    assert named - set(every_act()) == set()


def test_every_act_puts_back_what_it_was_handed():
    bare = [name for name, act in every_act().items() if not hasattr(act, "leaves_objects_unchanged")]
    assert bare == ["fleet.operations.audit.record_act"]
