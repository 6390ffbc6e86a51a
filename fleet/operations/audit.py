"""Writes the audit entries of acts; called inside the act's own transaction."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Model
from django.utils import timezone

from fleet.acting import current_origin
from fleet.models import AuditDetail, AuditEntry, Company, Member, Site, User


@dataclass(frozen=True, kw_only=True)
class ActFacts:
    """One act about a row: by a member, by an owner (``user`` and ``role``), or by the system.

    Personal values belong into ``before`` and ``after``, which are erasable; the entry itself holds ids and roles.
    ``at`` is given where it was done earlier than now.
    """

    act: str
    company: Company
    about: Model
    actor: Member | None = None
    user: User | None = None
    role: str = ""
    site: Site | None = None
    before: dict[str, Any] | None = None
    after: dict[str, Any] | None = None
    at: datetime | None = None


def record_act(
    *,
    act: str,
    company: Company,
    about: Model,
    actor: Member | None = None,
    user: User | None = None,
    role: str = "",
    site: Site | None = None,
    before: dict[str, Any] | None = None,
    after: dict[str, Any] | None = None,
) -> AuditEntry:
    """The audit entry of one act, as ``ActFacts`` tells it."""
    facts = ActFacts(
        act=act, company=company, about=about, actor=actor, user=user, role=role, site=site, before=before, after=after
    )
    return record_acts([facts])[0]


def record_acts(acts: Iterable[ActFacts]) -> list[AuditEntry]:
    """The audit entries of several acts, in their order."""
    told = list(acts)
    entries = AuditEntry.objects.bulk_create([_entry(facts) for facts in told])
    AuditDetail.objects.bulk_create(
        AuditDetail(entry=entry, before=facts.before or {}, after=facts.after or {}, origin=current_origin())
        for facts, entry in zip(told, entries, strict=True)
    )
    return entries


def _entry(facts: ActFacts) -> AuditEntry:
    about = facts.about
    return AuditEntry(
        company=facts.company,
        at=facts.at or timezone.now(),
        act=facts.act,
        user=facts.actor.user if facts.actor else facts.user,
        member=facts.actor,
        role=facts.actor.role if facts.actor else facts.role,
        site=facts.site,
        object_type=about._meta.model_name or "",
        object_id=str(getattr(about, "public_id", None) or getattr(about, "code", None) or about.pk),
    )
