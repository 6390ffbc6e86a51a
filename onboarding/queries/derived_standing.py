"""Standings as they follow from the ledger, and whether the rows that are kept of them do."""

from collections.abc import Iterable
from datetime import datetime

from fleet.keys import ledger_key
from onboarding.ledger.standing import GRANTING, next_standing
from onboarding.models import ConsentEntry, ConsentStanding, Purpose, Wording
from onboarding.moments import months_later
from onboarding.queries.consents import fact_of
from onboarding.queries.entry_check import Touched, differences, recorded

COLUMNS = ("company_id", "site_id", "owner_id", "purpose", "state", "strong", "entry_id", "at", "ends_at")
Pair = tuple[int, int]
"""The keys of a site and of an owner."""


def standing_of_entry(entry: ConsentEntry) -> ConsentStanding:
    """The standing of an entry that decides."""
    return ConsentStanding(
        company_id=entry.company_id, site_id=entry.site_id, owner_id=entry.owner_id, purpose=entry.purpose,
        state=entry.state, strong=fact_of(entry).strong, entry=entry, at=entry.at, ends_at=end_of(entry),
    )  # fmt: skip


def end_of(entry: ConsentEntry) -> datetime | None:
    """When the yes that an entry gives runs out; None where it does not."""
    return end_under(entry, entry.wording)


def end_under(entry: ConsentEntry, wording: Wording | None) -> datetime | None:
    """``end_of`` where the entry's wording is at hand."""
    months = int(wording.particulars.get("valid_months") or 0) if wording else 0
    return months_later(entry.at, months) if months and entry.state in GRANTING else None


def borne_out(pairs: Iterable[Pair]) -> dict[Pair, ConsentStanding]:
    """Of sites with an owner, the standing of ``contact`` where it follows from the ledger in every column.

    Every entry about the two is read anew: its seal, its columns, its wording. What was touched is not there.
    """
    wanted = set(pairs)
    if not wanted:
        return {}
    made_with = ledger_key()
    about = {
        "purpose": Purpose.CONTACT,
        "site__in": {site for site, _owner in wanted},
        "owner__in": {owner for _site, owner in wanted},
    }
    entries = ConsentEntry.objects.filter(**about).order_by("position")
    deciding: dict[Pair, ConsentEntry] = {}
    touched: set[Pair] = set()
    for entry in entries.select_related("wording", "company", "site", "owner", "recorded_by"):
        pair = (entry.site_id, entry.owner_id)
        if not _as_recorded(entry, made_with):
            touched.add(pair)
        so_far = deciding.get(pair)
        if so_far is None or next_standing(fact_of(so_far), fact_of(entry)) == fact_of(entry):
            deciding[pair] = entry
    return {
        pair: row
        for row in ConsentStanding.objects.filter(**about)
        if (pair := (row.site_id, row.owner_id)) in wanted - touched
        and pair in deciding
        and same_columns(row, standing_of_entry(deciding[pair]))
    }


def same_columns(row: ConsentStanding, derived: ConsentStanding) -> bool:
    """Whether a kept standing is the derived one in every column."""
    return all(getattr(row, column) == getattr(derived, column) for column in COLUMNS)


def _as_recorded(entry: ConsentEntry, made_with: str) -> bool:
    try:
        document = recorded(entry, made_with)
    except Touched:
        return False
    wordings = {entry.wording_id: entry.wording} if entry.wording_id else {}
    return not any(True for _ in differences(entry, document, wordings))
