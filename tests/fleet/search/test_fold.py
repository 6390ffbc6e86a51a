"""Folding: the same for what is indexed and what is typed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.search.fold import fold, folded_with_places, pieces, skeleton


@pytest.mark.parametrize(
    ("text", "folded"),
    [
        ("São João", "sao joao"),
        ("Ångström", "angstrom"),
        ("Łódź", "lodz"),
        ("Sørensen", "sorensen"),
        ("Đorđević", "dordevic"),
        ("Guðrún Þórðardóttir", "gudrun thordardottir"),
        ("Æblegård", "aeblegard"),
        ("Cœur", "coeur"),
        ("Iğdır", "igdir"),
        ("İstanbul", "istanbul"),
        ("STRAẞE Straße", "strasse strasse"),
        ("e\u0301clair", "eclair"),
        ("ﬁn 1º", "fin 1o"),
        ("Ελευθερίου", "ελευθεριου"),
    ],
)
def test_marks_and_case_are_dropped(text: str, folded: str) -> None:
    assert fold(text) == folded


def test_pieces_are_runs_of_letters_and_digits() -> None:
    assert pieces("R. da Sé, 12-A_b (2º)") == ["r", "da", "se", "12", "a", "b", "2o"]


@pytest.mark.parametrize("typed", ["SO1L-7O", "s01l 70", "S0I1.70", "SOl1/7o"])
def test_look_alikes_and_punctuation_share_a_skeleton(typed: str) -> None:
    assert skeleton(typed) == "s01170"


@given(st.text(max_size=30))
def test_folding_twice_changes_nothing(text: str) -> None:
    assert fold(fold(text)) == fold(text)


@given(st.text(max_size=30))
def test_places_point_back_in_order(text: str) -> None:
    folded, places = folded_with_places(text)
    assert len(folded) == len(places)
    assert places == sorted(places)
    assert all(folded[at] in fold(text[place]) for at, place in enumerate(places))
