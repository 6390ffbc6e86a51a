"""Writes one line of a company's consent ledger. Only the acts in ``consents`` call this."""

import uuid
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.conf import settings
from django.db.models import F
from django.utils import timezone

from fleet.models import Company, Member, Site, User
from fleet.operations.refusals import Conflicting
from onboarding.ledger.chain import SCHEMA_VERSION, canonical_json, commitments, entry_mac, seal, utc_text
from onboarding.ledger.standing import GRANTING, next_standing
from onboarding.models import ConsentDetail, ConsentEntry, ConsentStanding, LedgerHead, Owner, Wording
from onboarding.moments import months_later
from onboarding.queries.consents import fact_of


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
    entry_id: uuid.UUID = field(default_factory=uuid.uuid4)
    personal: dict[str, Any] = field(default_factory=dict)


def append(line: Line) -> ConsentEntry:
    """Add ``line`` to the chain and bring the standing up to date. Call inside a transaction."""
    company = line.site.company
    head = lock_head(company)
    at = line.at or timezone.now()
    sealed = seal(line.personal)
    position = head.count + 1
    canonical = canonical_json(document_of(line, company, position, at, commitments(sealed)))
    entry = ConsentEntry.objects.create(
        entry_id=line.entry_id,
        company=company,
        position=position,
        site=line.site,
        owner=line.owner,
        purpose=line.purpose,
        state=line.state,
        evidence=line.evidence,
        at=at,
        wording=line.wording,
        recorded_by=line.member,
        user=line.user,
        canonical=canonical,
        previous_mac=head.last_mac,
        mac=entry_mac(settings.LEDGER_KEY, head.last_mac, canonical),
    )
    ConsentDetail.objects.create(entry=entry, values={name: list(pair) for name, pair in sealed.items()})
    _advance(head, entry)
    _restand(entry)
    return entry


def lock_head(company: Company) -> LedgerHead:
    """Take the company's place in line. Acts that touch invitations or deliveries too take it before those rows."""
    LedgerHead.objects.get_or_create(company=company)
    return LedgerHead.objects.select_for_update().get(company=company)


def _advance(head: LedgerHead, entry: ConsentEntry) -> None:
    moved = LedgerHead.objects.filter(company_id=head.company_id, count=head.count, last_mac=head.last_mac).update(
        count=F("count") + 1, last_mac=entry.mac
    )
    if moved != 1:
        raise LedgerMoved


def _restand(entry: ConsentEntry) -> None:
    key: dict[str, Any] = {"site_id": entry.site_id, "owner_id": entry.owner_id, "purpose": entry.purpose}
    row = ConsentStanding.objects.filter(**key).select_related("entry").first()
    if row is not None and next_standing(fact_of(row.entry), fact_of(entry)) != fact_of(entry):
        return
    ConsentStanding.objects.update_or_create(
        **key,
        defaults={
            "company_id": entry.company_id,
            "state": entry.state,
            "strong": fact_of(entry).strong,
            "entry": entry,
            "at": entry.at,
            "ends_at": end_of(entry),
        },
    )


def end_of(entry: ConsentEntry) -> datetime | None:
    """When the yes that an entry gives runs out; None where it does not."""
    months = int(entry.wording.particulars.get("valid_months") or 0) if entry.wording else 0
    return months_later(entry.at, months) if months and entry.state in GRANTING else None


def document_of(line: Line, company: Company, position: int, at: datetime, committed: dict[str, str]) -> dict[str, Any]:
    """What an entry's MAC is computed over."""
    wording = line.wording
    return {
        "schema": SCHEMA_VERSION,
        "entry": str(line.entry_id),
        "company": str(company.public_id),
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
    }
