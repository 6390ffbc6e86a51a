"""Writes lines of a company's consent ledger. Only the acts in ``consents`` call this."""

import uuid
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.utils import timezone

from fleet.models import Company, Member, Site, User
from fleet.operations.refusals import Conflicting
from onboarding.ledger.chain import SCHEMA_VERSION, canonical_json, commitments, entry_mac, seal, utc_text
from onboarding.ledger.standing import next_standing
from onboarding.models import ConsentDetail, ConsentEntry, ConsentStanding, InvitationLink, LedgerHead, Owner, Wording
from onboarding.operations.keys import require_ledger_key
from onboarding.queries.consents import fact_of
from onboarding.queries.derived_standing import standing_of_entry


class LedgerMoved(Conflicting):
    """Another writer took the place in the chain; cannot happen while the head row is locked."""

    code = "ledger_moved"


@dataclass(frozen=True, kw_only=True)
class Line:
    """What one entry is to say. ``personal`` values are sealed: the entry itself only commits to them.

    Without ``at`` the time is read once the head row is locked, so that nothing said later bears an earlier time.
    """

    site: Site
    owner: Owner
    purpose: str
    state: str
    evidence: str
    indicated_by: str
    at: datetime | None = None
    wording: Wording | None = None
    member: Member | None = None
    user: User | None = None
    role: str = ""
    on_behalf_of: str = ""
    file_sha256: str = ""
    letter: InvitationLink | None = None
    entry_id: uuid.UUID = field(default_factory=uuid.uuid4)
    personal: dict[str, Any] = field(default_factory=dict)


def append(lines: Sequence[Line]) -> list[ConsentEntry]:
    """Add ``lines``, all of one company, to the chain and bring the standings up to date. Call inside a transaction."""
    head = lock_head(lines[0].site.company)
    entries = write_entries(head, lines)
    _restand(entries)
    return entries


def lock_head(company: Company) -> LedgerHead:
    """Take the company's place in line. Acts that touch invitations or deliveries too take it before those rows."""
    locked = LedgerHead.objects.select_for_update().filter(company=company)
    if (head := locked.first()) is not None:
        return head
    LedgerHead.objects.get_or_create(company=company)
    return locked.get()


def write_entries(head: LedgerHead, lines: Sequence[Line]) -> list[ConsentEntry]:
    """The entries of ``lines`` in their order, chained to the locked ``head``, which moves on; no standings.

    Raises LedgerKeyNotHere where the key at hand is not the one that the ledger was written with.
    """
    now, key = timezone.now(), require_ledger_key()
    entries: list[ConsentEntry] = []
    details = []
    previous = head.last_mac
    for position, line in enumerate(lines, head.count + 1):
        sealed = seal(line.personal)
        canonical = canonical_json(document_of(line, position, line.at or now, commitments(sealed)))
        entry = ConsentEntry(
            entry_id=line.entry_id, company=line.site.company, position=position, site=line.site, owner=line.owner,
            purpose=line.purpose, state=line.state, evidence=line.evidence, at=line.at or now, wording=line.wording,
            recorded_by=line.member, user=line.user, canonical=canonical, previous_mac=previous,
            mac=entry_mac(key, previous, canonical),
        )  # fmt: skip
        entries.append(entry)
        details.append(ConsentDetail(entry=entry, values={name: list(pair) for name, pair in sealed.items()}))
        previous = entry.mac
    ConsentEntry.objects.bulk_create(entries)
    ConsentDetail.objects.bulk_create(details)
    moved = LedgerHead.objects.filter(company_id=head.company_id, count=head.count, last_mac=head.last_mac)
    if moved.update(count=head.count + len(entries), last_mac=previous) != 1:
        raise LedgerMoved
    return entries


def _restand(entries: Sequence[ConsentEntry]) -> None:
    standing = {
        (row.site_id, row.owner_id, row.purpose): row.entry
        for row in ConsentStanding.objects.filter(
            site__in={entry.site_id for entry in entries}, owner__in={entry.owner_id for entry in entries}
        ).select_related("entry")
    }
    deciding: dict[tuple[int, int, str], ConsentEntry] = {}
    for entry in entries:
        key = (entry.site_id, entry.owner_id, entry.purpose)
        so_far = deciding.get(key) or standing.get(key)
        if so_far is None or next_standing(fact_of(so_far), fact_of(entry)) == fact_of(entry):
            deciding[key] = entry
    ConsentStanding.objects.bulk_create(
        [standing_of_entry(entry) for entry in deciding.values()],
        update_conflicts=True,
        unique_fields=["site", "owner", "purpose"],
        update_fields=["company", "state", "strong", "entry", "at", "ends_at"],
    )


def document_of(line: Line, position: int, at: datetime, committed: dict[str, str]) -> dict[str, Any]:
    """What an entry's MAC is computed over."""
    wording = line.wording
    return {
        "schema": SCHEMA_VERSION,
        "entry": str(line.entry_id),
        "company": str(line.site.company.public_id),
        "position": position,
        "site": line.site.code,
        "person": str(line.owner.public_id),
        "purpose": str(line.purpose),
        "state": str(line.state),
        "at": utc_text(at),
        "wording": None
        if wording is None
        else {
            "id": wording.pk,
            "version": wording.version,
            "language": wording.language,
            "sha256": wording.sha256,
        },
        "indicated_by": line.indicated_by,
        "captured_by": {
            "member": str(line.member.public_id) if line.member else None,
            "user": str(line.user.pk) if line.user else None,
            "role": line.member.role if line.member else line.role,
        },
        "on_behalf_of": line.on_behalf_of,
        "evidence": str(line.evidence),
        "file_sha256": line.file_sha256,
        "committed": committed,
    } | _letter_of(line)


def _letter_of(line: Line) -> dict[str, Any]:
    """Who printed the letter whose code was used, and when; entries that rest on none do not speak of it."""
    if line.letter is None:
        return {}
    printed_by = line.letter.made_by
    return {
        "letter": {
            "printed_by": str(printed_by.public_id) if printed_by else None,
            "printed_at": utc_text(line.letter.made_at),
        }
    }
