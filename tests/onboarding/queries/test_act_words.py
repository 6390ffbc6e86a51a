"""Every act that onboarding records has words, also under the names that acts bore before."""

import ast
from pathlib import Path

import pytest
from django.urls import reverse
from django.utils.functional import Promise

import onboarding.operations
from fleet.models import AuditDetail, AuditEntry
from fleet.queries.site_years import act_words, years_of
from onboarding.models import ConsentState
from onboarding.operations.acceptance import accept_invitation
from onboarding.operations.consents import record_consent
from onboarding.operations.owners import OwnerFacts, edit_owner
from onboarding.queries.act_words import ACT_OF_STATE, ACTS
from tests.factories import PASSWORD, make_invitation, make_member, make_owner, make_site

RECORDERS = {"record_act", "ActFacts", "_audit", "audit_owner"}


def recorded_acts() -> set[str]:
    """The names that stand in calls which record an act, wherever onboarding's operations have such a call."""
    found = set()
    for file in Path(onboarding.operations.__path__[0]).glob("*.py"):
        for call in ast.walk(ast.parse(file.read_text())):
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") in RECORDERS:
                given = [*call.args[:1], *(each.value for each in call.keywords if each.arg == "act")]
                found |= {
                    each.value for each in given if isinstance(each, ast.Constant) and isinstance(each.value, str)
                }
    return found


def test_every_recorded_act_has_words_of_its_own():
    names = recorded_acts() | set(ACT_OF_STATE.values())
    assert len(names) > 20
    assert names == set(ACTS)
    assert set(ACT_OF_STATE) == set(ConsentState.values)
    assert len({str(words) for words in ACTS.values()}) == len(ACTS)
    assert all(isinstance(words, Promise) for words in ACTS.values())
    assert not [name for name in names if "." in name]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("invitation.made", "Owner invited"),
        ("consent.withdrawn", "Permission withdrawn"),
        ("owner.ended", "Ownership ended"),
    ],
)
def test_names_of_earlier_entries_keep_their_words(name: str, words: str):
    assert act_words()[name] == words


@pytest.mark.django_db
def test_a_sites_timeline_reads_in_words(client):
    member = make_member(role="administrator")
    site = make_site(member)
    owner = make_owner(member, site, name="Inês Exemplo", email="ines@example.net")
    _invitation, token = make_invitation(member, site, owner)
    accept_invitation(token=token, password=PASSWORD, choices={"contact": True})
    record_consent(actor=member, site=site, owner=owner, purpose="monitoring", state="refused", how="staff_statement")
    edit_owner(
        actor=member, site=site, owner=owner,
        facts=OwnerFacts(name="Inês Exemplo", email="ines@example.net", postal_address="Rua Nova 1"),
    )  # fmt: skip
    earlier = AuditEntry.objects.create(
        company=member.company, act="invitation.not_me", role="recipient", site=site, object_type="invitation",
        object_id="1",
    )  # fmt: skip
    AuditDetail.objects.create(entry=earlier)
    moments = years_of(site).moments
    told = [(str(each.what), each.about, each.who) for each in moments]
    assert ("Permission given", "Writing to the owner about this site", "Inês Exemplo") in told
    assert ("Permission refused", "Processing the site's measurements", member.user.get_full_name()) in told
    assert ("Whoever got the invitation said that it is not for them", "", "whoever got the mail") in told
    assert [change.name for each in moments for change in each.changes] == ["postal address"]
    known = {str(words) for words in act_words().values()}
    assert {what for what, _about, _who in told} <= known
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    shown = client.get(reverse("fleet:site", args=[site.code])).content.decode()
    assert "Owner invited" in shown
