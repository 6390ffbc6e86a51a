"""Writes the audit entry of an act; called inside the act's own transaction."""

from typing import Any

from django.db.models import Model

from fleet.acting import current_origin
from fleet.models import AuditDetail, AuditEntry, Company, Member, Site, User


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
    """One audit entry for ``act`` about a row: by a member, by an owner (``user`` and ``role``), or by the system.

    Personal values belong into ``before`` and ``after``, which are erasable; the entry itself holds ids and roles.
    """
    entry = AuditEntry.objects.create(
        company=company,
        act=act,
        user=actor.user if actor else user,
        member=actor,
        role=actor.role if actor else role,
        site=site,
        object_type=about._meta.model_name or "",
        object_id=str(getattr(about, "public_id", None) or getattr(about, "code", None) or about.pk),
    )
    AuditDetail.objects.create(entry=entry, before=before or {}, after=after or {}, origin=current_origin())
    return entry
