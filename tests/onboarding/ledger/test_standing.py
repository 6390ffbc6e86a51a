"""What entries amount to, in which order and of which weight."""

from datetime import UTC, datetime, timedelta

import pytest

from onboarding.ledger.standing import Fact, next_standing, permits

START = datetime(2026, 3, 1, tzinfo=UTC)


def said(*facts: tuple[str, str]) -> list[Fact]:
    """Facts one hour apart."""
    return [
        Fact(str(number), state, evidence, START + timedelta(hours=number))
        for number, (state, evidence) in enumerate(facts)
    ]


def standing_of(entries: list[Fact]) -> Fact | None:
    """The standing that ``entries``, in ledger order, amount to."""
    standing: Fact | None = None
    for entry in entries:
        standing = next_standing(standing, entry)
    return standing


@pytest.mark.parametrize(
    ("facts", "monitoring", "invitation"),
    [
        ([], False, False),
        ([("requested", "staff_statement")], False, False),
        ([("given", "staff_statement")], False, True),
        ([("given", "co_owner")], False, True),
        ([("given", "paper_reference")], True, True),
        ([("given", "signature")], True, True),
        ([("given", "owner_online")], True, True),
        ([("given", "owner_online"), ("withdrawn", "owner_online")], False, False),
        ([("given", "owner_online"), ("withdrawn", "staff_statement")], False, False),
        ([("withdrawn", "owner_online"), ("given", "staff_statement")], False, False),
        ([("refused", "owner_online"), ("given", "paper_reference")], True, True),
        ([("given", "owner_online"), ("given", "staff_statement")], True, True),
        ([("given", "owner_online"), ("requested", "staff_statement")], True, True),
        ([("given", "owner_online"), ("expired", "owner_online")], False, False),
        ([("refused", "staff_statement"), ("given", "staff_statement")], False, True),
    ],
)
def test_what_is_permitted(facts, monitoring, invitation):
    standing = standing_of(said(*facts))
    assert permits("monitoring", standing) is monitoring
    assert permits("contact", standing, invitation=True) is invitation
    assert permits("monitoring", standing, invitation=True) is monitoring


def test_an_older_no_that_arrives_late_stands_against_a_later_yes_until_it_is_asked_again():
    no, yes, again = said(("refused", "signature"), ("given", "owner_online"), ("given", "signature"))
    assert standing_of([yes, no]) == no
    assert standing_of([yes, no, again]) == again
    expired, renewed = said(("expired", "owner_online"), ("given", "signature"))
    assert standing_of([renewed, expired]) == renewed


def test_a_late_entry_does_not_overturn_a_later_one():
    yes, no = said(("given", "signature"), ("withdrawn", "owner_online"))
    assert standing_of([no, yes]) == no
