"""Lines of the ledger about one owner at one site, with what hangs on them; and the lines that no person writes."""

from collections.abc import Sequence
from datetime import datetime

from django.utils import timezone

from fleet.acting import current_origin
from fleet.models import Member, User
from fleet.operations.audit import ActFacts, record_acts
from fleet.operations.rollback import unchanged_if_refused
from fleet.search import reindex
from onboarding.models import ConsentEntry, ConsentStanding, ConsentState, Owner, Purpose
from onboarding.operations import held
from onboarding.operations.ledger import Line, append
from onboarding.queries.act_words import ACT_OF_STATE


@unchanged_if_refused
def write_lines(lines: Sequence[Line], *, actor: Member | None = None, user: User | None = None) -> list[ConsentEntry]:
    """Append lines about one owner at one site, with their audit entries; then look again at what hangs on them.

    ``user`` is the owner whose own act it is. Within a transaction.
    """
    site, owner = lines[0].site, lines[0].owner
    entries = append(lines)
    record_acts(
        ActFacts(
            act=ACT_OF_STATE[line.state],
            company=site.company,
            about=entry,
            actor=actor,
            user=user,
            role=line.role,
            site=site,
            after={"purpose": str(line.purpose), "state": str(line.state), "evidence": str(line.evidence)},
        )
        for line, entry in zip(lines, entries, strict=True)
    )
    if any(line.purpose == Purpose.CONTACT for line in lines):
        held.reconsider(site=site, owner=owner)
    reindex([site.pk])
    return entries


def personal_of(owner: Owner) -> dict[str, str]:
    """The personal values that an entry about ``owner`` seals."""
    return {"name": owner.name, "address": owner.email, "origin": current_origin()}


@unchanged_if_refused
def end_by_system(*, standing: ConsentStanding, state: str, reason: str, actor: Member | None = None) -> ConsentEntry:
    """End a given permission because its time is over, or because the site changed hands. Within a transaction.

    What ran out ended when its time was over, not when a sweep came by: what was said in between is later.
    """
    line = Line(
        site=standing.site,
        owner=standing.owner,
        purpose=standing.purpose,
        state=state,
        evidence=standing.entry.evidence,
        at=_over_since(standing) if state == ConsentState.EXPIRED else None,
        indicated_by=f"system:{reason}",
        wording=standing.entry.wording,
        member=actor,
        user=actor.user if actor else None,
        role="" if actor else "system",
    )
    return write_lines([line], actor=actor)[0]


def _over_since(standing: ConsentStanding) -> datetime | None:
    return max(standing.at, min(standing.ends_at, timezone.now())) if standing.ends_at else None
