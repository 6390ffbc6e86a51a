"""Accepting costs the same whatever hangs on the owner and the site, and leaves the ledger whole."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from onboarding.models import ConsentStanding, Purpose
from onboarding.operations.acceptance import accept_invitation
from onboarding.operations.consents import OwnersWord, confirm_consents, record_consent, withdraw_consent
from onboarding.queries.ledger_check import findings
from tests.factories import PASSWORD, make_invitation, make_member, make_owner, make_site

pytestmark = pytest.mark.django_db
MOST_QUERIES = 50


def accepting_costs(neighbours: int) -> int:
    member = make_member()
    site = make_site(member)
    for _ in range(neighbours):
        make_invitation(member, site, make_owner(member, site))
    owner = make_owner(member, site)
    for _ in range(neighbours):
        record_consent(actor=member, site=site, owner=owner, purpose="monitoring", state="given", how="staff_statement")
    _invitation, token = make_invitation(member, site, owner)
    with CaptureQueriesContext(connection) as captured:
        accept_invitation(token=token, password=PASSWORD, choices=dict.fromkeys(Purpose.values, True))
    assert list(findings(member.company)) == []
    return len(captured)


def test_accepting_takes_few_queries_and_no_more_where_much_is_known():
    alone, among_many = accepting_costs(1), accepting_costs(9)
    assert alone == among_many
    assert alone <= MOST_QUERIES


def test_several_answers_at_once_stand_as_if_given_one_after_the_other():
    member = make_member()
    site = make_site(member)
    owner = make_owner(member, site)
    _invitation, token = make_invitation(member, site, owner)
    accepted = accept_invitation(token=token, password=PASSWORD, choices={"monitoring": True, "contact": False})
    owner, word = accepted.owner, OwnersWord(user=accepted.user)
    confirm_consents(word=word, owner=owner, site=site, choices={"home_network": True, "contact": True})
    withdraw_consent(word=word, owner=owner, site=site, purpose="monitoring")
    standing = dict(ConsentStanding.objects.filter(owner=owner).values_list("purpose", "state"))
    assert standing == {"monitoring": "withdrawn", "home_network": "given", "contact": "given"}
    positions = list(owner.consent_entries.order_by("position").values_list("position", flat=True))
    assert positions == list(range(1, 7))
    assert list(findings(member.company)) == []
