"""The ledger in the database: whatever is done to it is found and named, and writers keep in line."""

import threading
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connections
from django.utils import timezone

from fleet.acting import origin
from fleet.models import Company
from onboarding.models import ConsentDetail, ConsentEntry, ConsentStanding, LedgerHead, Wording
from onboarding.operations.consents import record_consent
from onboarding.operations.invitation_sweep import forget_origins
from onboarding.operations.wordings import seed_wordings
from onboarding.queries.ledger_check import findings, ledger_head
from tests.factories import make_company, make_member, make_owner, make_site
from tests.guard_lifting import drop_guards


def write_entries(count: int, company: Company | None = None) -> list[ConsentEntry]:
    """A ledger of ``count`` entries in a company with wordings."""
    member = make_member(company)
    seed_wordings(member.company)
    site = make_site(member)
    owner = make_owner(member, site)
    states = ("given", "refused", "withdrawn")
    return [
        record_consent(
            actor=member,
            site=site,
            owner=owner,
            purpose=("contact", "monitoring", "home_network")[number % 3],
            state=states[number // 3 % 3],
            how="paper_reference",
            reference=f"folder 7, sheet {number}",
        )
        for number in range(count)
    ]


def verify(*arguments: str) -> str:
    """What the command prints."""
    out = StringIO()
    call_command("verify_consents", *arguments, stdout=out)
    return out.getvalue()


def found(company: Company) -> list[str]:
    return [finding.what for finding in findings(company)]


@pytest.mark.django_db
def test_a_whole_ledger_is_told_whole():
    entries = write_entries(9)
    assert found(entries[0].company) == []
    assert "whole: 9 entries" in verify()
    assert ConsentStanding.objects.count() == 3


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("tamper", "named", "what"),
    [
        (lambda e: ConsentEntry.objects.filter(pk=e[4].pk).update(state="given"), 4, "column state"),
        (lambda e: ConsentEntry.objects.filter(pk=e[4].pk).update(recorded_by=None), 4, "column recorded_by"),
        (
            lambda e: ConsentEntry.objects.filter(pk=e[4].pk).update(
                canonical=e[4].canonical.replace('"refused"', '"given"')
            ),
            4,
            "not what was recorded",
        ),
        (lambda e: ConsentEntry.objects.filter(pk=e[4].pk).update(mac="0" * 64), 4, "not what was recorded"),
        (lambda e: remove(e[4]), 5, "are missing"),
        (lambda e: swap(e[3], e[4]), 3, "differs"),
        (
            lambda e: ConsentDetail.objects.filter(entry=e[4]).update(values={"reference": ["00", "another"]}),
            4,
            "personal values",
        ),
        (lambda e: Wording.objects.filter(pk=e[4].wording_id).update(text="You may do everything."), 4, "wording"),
    ],
)
def test_what_was_touched_is_named(tamper, named, what):
    entries = write_entries(9)
    drop_guards()
    tamper(entries)
    with pytest.raises(CommandError) as error:
        verify()
    assert error.value.returncode == 1
    out = StringIO()
    with pytest.raises(CommandError):
        call_command("verify_consents", stdout=out)
    lines = [line for line in out.getvalue().splitlines() if str(entries[named].entry_id) in line]
    assert any(what in line for line in lines), out.getvalue()


def remove(*entries: ConsentEntry) -> None:
    """Take entries out with their details and standings, as with the database's own tools."""
    keys = [entry.pk for entry in entries]
    ConsentStanding.objects.filter(entry__in=keys).delete()
    ConsentDetail.objects.filter(entry__in=keys).delete()
    ConsentEntry.objects.filter(pk__in=keys)._raw_delete("default")


def swap(one: ConsentEntry, other: ConsentEntry) -> None:
    """Exchange the places of two entries."""
    ConsentEntry.objects.filter(pk=one.pk).update(position=1_000_000)
    ConsentEntry.objects.filter(pk=other.pk).update(position=one.position)
    ConsentEntry.objects.filter(pk=one.pk).update(position=other.position)


@pytest.mark.django_db
def test_a_missing_tail_is_found_even_with_the_head_rewritten():
    entries = write_entries(9)
    head = ledger_head(entries[0].company)
    drop_guards()
    remove(entries[8])
    assert any("the last 1 entries are missing" in what for what in found(entries[0].company))
    LedgerHead.objects.update(count=8, last_mac=entries[7].mac)
    assert any("the audit tells of" in what for what in found(entries[0].company))
    with pytest.raises(CommandError):
        verify("--expect", head.written)


@pytest.mark.django_db
def test_an_added_entry_is_found():
    entries = write_entries(3)
    last = entries[2]
    ConsentEntry.objects.create(
        company=last.company,
        position=4,
        site=last.site,
        owner=last.owner,
        purpose="monitoring",
        state="given",
        evidence="owner_online",
        at=last.at,
        canonical=last.canonical,
        previous_mac=last.mac,
        mac="f" * 64,
    )
    told = found(last.company)
    assert any("not what was recorded" in what for what in told)
    assert any("head row differs" in what for what in told)


@pytest.mark.django_db
def test_a_standing_that_does_not_follow_is_found():
    entries = write_entries(3)
    ConsentStanding.objects.filter(purpose="monitoring").update(state="withdrawn")
    assert any("standing of monitoring" in what for what in found(entries[0].company))


@pytest.mark.django_db
def test_a_kept_head_is_recognised_later():
    company = make_company()
    write_entries(4, company)
    printed = verify("--head").strip()
    other = make_member(company, role="administrator")
    site = make_site(other)
    record_consent(
        actor=other, site=site, owner=make_owner(other, site), purpose="contact", state="given", how="staff_statement"
    )
    assert "whole: 5" in verify("--expect", printed)
    with pytest.raises(CommandError):
        verify("--expect", printed[:-4] + "0000")


@pytest.mark.django_db
def test_another_key_verifies_nothing(settings):
    write_entries(2)
    settings.LEDGER_KEY = "another key of at least thirty-two characters"
    with pytest.raises(CommandError):
        verify()


@pytest.mark.django_db
def test_erased_origins_still_verify(settings):
    long_ago = timezone.now() - timedelta(days=100)
    member = make_member()
    site = make_site(member)
    with origin("192.0.2.7"):
        entry = record_consent(
            actor=member, site=site, owner=make_owner(member, site), purpose="contact", state="given",
            how="staff_statement", at=long_ago,
        )  # fmt: skip
    assert "origin" in entry.detail.values
    assert [forget_origins(), forget_origins()] == [1, 0]
    assert "origin" not in ConsentDetail.objects.get(entry=entry).values
    assert found(entry.company) == []


@pytest.mark.django_db(transaction=True)
def test_concurrent_writers_make_one_chain():
    company = make_company()
    members = [make_member(company) for _ in range(4)]
    seed_wordings(company)
    sites = [make_site(member) for member in members]
    owners = [make_owner(member, site) for member, site in zip(members, sites, strict=True)]
    problems: list[BaseException] = []

    def write(number: int) -> None:
        try:
            for turn in range(8):
                record_consent(
                    actor=members[number],
                    site=sites[number],
                    owner=owners[number],
                    purpose="contact",
                    state=("given", "refused")[turn % 2],
                    how="staff_statement",
                )
        except BaseException as problem:  # told to the test's own thread
            problems.append(problem)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=write, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert problems == []
    assert list(ConsentEntry.objects.order_by("position").values_list("position", flat=True)) == list(range(1, 33))
    assert found(company) == []
