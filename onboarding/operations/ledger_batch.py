"""Writes many lines of one company's consent ledger at once, for owners about whom nothing was recorded before."""

from collections.abc import Sequence

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from fleet.models import Company
from onboarding.ledger.chain import canonical_json, commitments, entry_mac, seal
from onboarding.models import ConsentDetail, ConsentEntry, ConsentStanding, LedgerHead
from onboarding.operations.ledger import Line, document_of, end_of, lock_head
from onboarding.queries.consents import fact_of


@transaction.atomic
def append_first_words(company: Company, lines: Sequence[Line]) -> list[ConsentEntry]:
    """Add ``lines``, in order of their time, to the chain with their standings; answers the entries.

    Each line is the first about its site, owner and purpose: the database refuses a second standing with
    IntegrityError. Reindexing the sites is left to the caller.
    """
    head = lock_head(company)
    entries, details = [], []
    previous = head.last_mac
    now = timezone.now()
    for position, line in enumerate(sorted(lines, key=lambda line: line.at or now), head.count + 1):
        sealed = seal(line.personal)
        at = line.at or now
        canonical = canonical_json(document_of(line, company, position, at, commitments(sealed)))
        mac = entry_mac(settings.LEDGER_KEY, previous, canonical)
        entry = ConsentEntry(
            entry_id=line.entry_id, company=company, position=position, site=line.site, owner=line.owner,
            purpose=line.purpose, state=line.state, evidence=line.evidence, at=at, wording=line.wording,
            recorded_by=line.member, user=line.user, canonical=canonical, previous_mac=previous, mac=mac,
        )  # fmt: skip
        entries.append(entry)
        details.append(ConsentDetail(entry=entry, values={name: list(pair) for name, pair in sealed.items()}))
        previous = mac
    ConsentEntry.objects.bulk_create(entries)
    ConsentDetail.objects.bulk_create(details)
    ConsentStanding.objects.bulk_create([_standing(entry) for entry in entries])
    LedgerHead.objects.filter(company=company).update(count=head.count + len(entries), last_mac=previous)
    return entries


def _standing(entry: ConsentEntry) -> ConsentStanding:
    return ConsentStanding(
        company_id=entry.company_id, site_id=entry.site_id, owner_id=entry.owner_id, purpose=entry.purpose,
        state=entry.state, strong=fact_of(entry).strong, entry=entry, at=entry.at, ends_at=end_of(entry),
    )  # fmt: skip
