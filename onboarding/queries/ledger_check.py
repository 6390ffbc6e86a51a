"""Goes through a company's ledger from its first entry and tells what does not fit."""

from collections.abc import Iterator
from dataclasses import dataclass

from fleet.keys import ledger_key
from fleet.models import AuditEntry, Company
from onboarding.ledger.chain import broken_commitments, entry_mac, parsed, same_mac, utc_text
from onboarding.ledger.standing import Fact, next_standing
from onboarding.ledger.texts import wording_digest
from onboarding.models import ConsentEntry, ConsentStanding, LedgerHead, Wording
from onboarding.queries.consents import fact_of

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


def ledger_head(company: Company) -> Head:
    """The head row of ``company``; an empty ledger has count 0 and no MAC."""
    row = LedgerHead.objects.filter(company=company).first()
    return Head(row.count, row.last_mac) if row else Head(0, "")


def findings(company: Company) -> Iterator[Finding]:
    """Everything wrong with the ledger of ``company``, in order; nothing when it is whole."""
    previous, position, made_with = "", 0, ledger_key()
    standings: dict[tuple[int, int, str], Fact] = {}
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
        for what in _wrong_with(made_with, entry, previous, wordings):
            yield Finding(str(entry.entry_id), entry.position, what)
        previous = entry.mac
        key = (entry.site_id, entry.owner_id, entry.purpose)
        standings[key] = next_standing(standings.get(key), fact_of(entry))
    yield from _end_of(company, position, previous)
    yield from _standing_differences(company, standings)


def was_at(company: Company, head: Head) -> bool:
    """Whether the ledger still holds the entry that ``head`` was taken at."""
    if head.count == 0:
        return head.mac == ""
    entry = ConsentEntry.objects.filter(company=company, position=head.count).first()
    return entry is not None and same_mac(entry.mac, head.mac)


def _wrong_with(key: str, entry: ConsentEntry, previous: str, wordings: dict[int, Wording]) -> Iterator[str]:
    if entry.previous_mac != previous:
        yield "it does not follow the entry before it"
    if not same_mac(entry_mac(key, entry.previous_mac, entry.canonical), entry.mac):
        yield "its content is not what was recorded"
        return
    try:
        document = parsed(entry.canonical)
    except ValueError:
        yield "its content is not canonical"
        return
    for column, written, kept in _columns(entry, document):
        if written != kept:
            yield f"its column {column} differs from what was recorded"
    yield from _wrong_wording(document, entry, wordings)
    detail = getattr(entry, "detail", None)
    if detail is None:
        yield "its detail row is gone"
        return
    broken = broken_commitments(document["committed"], detail.values, detail.erased)
    if broken:
        yield f"its personal values differ from what was recorded: {', '.join(broken)}"


def _columns(entry: ConsentEntry, document: dict[str, object]) -> list[tuple[str, object, object]]:
    captured = document["captured_by"]
    assert isinstance(captured, dict)  # noqa: S101  # the MAC held, so the document is one of ours
    member = str(entry.recorded_by.public_id) if entry.recorded_by else None
    return [
        ("entry_id", document["entry"], str(entry.entry_id)),
        ("company", document["company"], str(entry.company.public_id)),
        ("position", document["position"], entry.position),
        ("site", document["site"], entry.site.code),
        ("owner", document["person"], str(entry.owner.public_id)),
        ("purpose", document["purpose"], entry.purpose),
        ("state", document["state"], entry.state),
        ("evidence", document["evidence"], entry.evidence),
        ("at", document["at"], utc_text(entry.at)),
        ("recorded_by", captured["member"], member),
        ("user", captured["user"], str(entry.user_id) if entry.user_id else None),
    ]


def _wrong_wording(document: dict[str, object], entry: ConsentEntry, wordings: dict[int, Wording]) -> Iterator[str]:
    named = document["wording"]
    if not isinstance(named, dict):
        if entry.wording_id is not None:
            yield "its column wording differs from what was recorded"
        return
    if entry.wording_id != named["id"]:
        yield "its column wording differs from what was recorded"
    wording = wordings.get(int(named["id"]))
    if wording is None:
        yield "the wording it rests on is gone"
        return
    digest = wording_digest(
        purpose=wording.purpose,
        language=wording.language,
        version=wording.version,
        text=wording.text,
        particulars=wording.particulars,
    )
    if digest != named["sha256"]:
        yield "the wording it rests on was changed"


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


def _standing_differences(company: Company, expected: dict[tuple[int, int, str], Fact]) -> Iterator[Finding]:
    standing = {
        (row.site_id, row.owner_id, row.purpose): row
        for row in ConsentStanding.objects.filter(company=company).select_related("entry")
    }
    for key, fact in expected.items():
        row = standing.pop(key, None)
        if row is None or (str(row.entry.entry_id), row.state, row.strong) != (fact.entry, fact.state, fact.strong):
            yield Finding(fact.entry, 0, f"the standing of {key[2]} does not follow from the ledger")
    for key in standing:
        yield Finding("", 0, f"a standing of {key[2]} has no entry in the ledger")
