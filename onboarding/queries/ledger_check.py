"""Goes through a company's ledger from its first entry and tells what does not fit."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from fleet.keys import ledger_key
from fleet.models import AuditEntry, Company
from onboarding.ledger.chain import same_mac
from onboarding.ledger.standing import Fact, next_standing
from onboarding.models import ConsentEntry, ConsentStanding, LedgerHead, Wording
from onboarding.queries.consents import fact_of
from onboarding.queries.derived_standing import end_under
from onboarding.queries.entry_check import Touched, differences, recorded
from onboarding.queries.evidence_check import EvidenceCheck

AT_ONCE = 2000


@dataclass(frozen=True)
class Finding:
    """One thing that does not fit: the entry it was found at (its id, or empty), its position, and what."""

    entry: str
    position: int
    what: str


@dataclass(frozen=True)
class Head:
    """How far a ledger has come: keep it elsewhere, and compare later."""

    count: int
    mac: str

    @property
    def written(self) -> str:
        """``COUNT:MAC``, as printed and as expected back."""
        return f"{self.count}:{self.mac}"


@dataclass(frozen=True, slots=True)
class Deciding:
    """The entry that decides a standing, as far as the standing's columns follow from it."""

    fact: Fact
    key: int
    ends_at: datetime | None

    def columns(self, company: Company) -> dict[str, object]:
        """What the kept row must say, besides site, owner and purpose."""
        return {
            "company_id": company.pk,
            "entry_id": self.key,
            "state": self.fact.state,
            "strong": self.fact.strong,
            "at": self.fact.at,
            "ends_at": self.ends_at,
        }


Key = tuple[int, int, str]


def ledger_head(company: Company) -> Head:
    """The head row of ``company``; an empty ledger has count 0 and no MAC."""
    row = LedgerHead.objects.filter(company=company).first()
    return Head(row.count, row.last_mac) if row else Head(0, "")


def findings(company: Company) -> Iterator[Finding]:
    """Everything wrong with the ledger of ``company``, in order; nothing when it is whole."""
    previous, position, made_with = "", 0, ledger_key()
    deciding: dict[Key, Deciding] = {}
    evidence = EvidenceCheck(company)
    wordings = {wording.pk: wording for wording in Wording.objects.filter(company=company)}
    entries = (
        ConsentEntry.objects.filter(company=company)
        .select_related("detail", "company", "site", "owner", "recorded_by")
        .order_by("position")
    )
    for entry in entries.iterator(chunk_size=AT_ONCE):
        position += 1
        if entry.position != position:
            yield Finding(
                str(entry.entry_id), entry.position, f"entries {position} to {entry.position - 1} are missing"
            )
            position = entry.position
        for what in _wrong_with(made_with, entry, previous, wordings, evidence):
            yield Finding(str(entry.entry_id), entry.position, what)
        previous = entry.mac
        key = (entry.site_id, entry.owner_id, entry.purpose)
        fact, so_far = fact_of(entry), deciding.get(key)
        if next_standing(so_far.fact if so_far else None, fact) == fact:
            deciding[key] = Deciding(fact, entry.pk, end_under(entry, wordings.get(entry.wording_id or 0)))
    yield from _end_of(company, position, previous)
    yield from _standing_differences(company, deciding)


def was_at(company: Company, head: Head) -> bool:
    """Whether the ledger still holds the entry that ``head`` was taken at."""
    if head.count == 0:
        return head.mac == ""
    entry = ConsentEntry.objects.filter(company=company, position=head.count).first()
    return entry is not None and same_mac(entry.mac, head.mac)


def _wrong_with(
    made_with: str, entry: ConsentEntry, previous: str, wordings: dict[int, Wording], evidence: EvidenceCheck
) -> Iterator[str]:
    if entry.previous_mac != previous:
        yield "it does not follow the entry before it"
    try:
        document = recorded(entry, made_with)
    except Touched as touched:
        yield str(touched)
        return
    yield from differences(entry, document, wordings)
    yield from evidence.wrong_with(entry, document)


def _end_of(company: Company, position: int, last_mac: str) -> Iterator[Finding]:
    head = ledger_head(company)
    if head.count > position:
        yield Finding("", position, f"the last {head.count - position} entries are missing")
    elif head.count < position or head.mac != last_mac:
        yield Finding("", position, "the head row differs from the last entry")
    told = set(
        AuditEntry.objects.filter(company=company, object_type="consententry").values_list("object_id", flat=True)
    )
    there = {str(pk) for pk in ConsentEntry.objects.filter(company=company).values_list("pk", flat=True)}
    for gone in sorted(told - there):
        yield Finding("", position, f"an entry is missing that the audit tells of (row {gone})")


def _standing_differences(company: Company, deciding: dict[Key, Deciding]) -> Iterator[Finding]:
    here = Q(company=company) | Q(site__company=company)
    kept = {(row.site_id, row.owner_id, row.purpose): row for row in ConsentStanding.objects.filter(here)}
    for key, derived in deciding.items():
        row = kept.pop(key, None)
        if row is None:
            yield Finding(derived.fact.entry, 0, f"the standing of {key[2]} is missing")
            continue
        for column, value in derived.columns(company).items():
            if getattr(row, column) != value:
                what = f"the standing of {key[2]} does not follow from the ledger: its column {column}"
                yield Finding(derived.fact.entry, 0, what)
    for key in kept:
        yield Finding("", 0, f"a standing of {key[2]} has no entry in the ledger")
