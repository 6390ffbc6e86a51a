"""Who handed a site over last, and how far the site was before."""

from dataclasses import dataclass
from datetime import datetime

from fleet.models import AuditEntry, Member, Site, Stage


@dataclass(frozen=True, slots=True)
class Handover:
    """One handover, as the audit tells it; ``by`` is None only where nobody of ours did it."""

    by: Member | None
    at: datetime
    stage_before: str


def last_handover(site: Site) -> Handover | None:
    """The handover that stands, or stood last; None where the site was never handed over here."""
    entry = (
        AuditEntry.objects.filter(site=site, act="hand_over_site")
        .select_related("member__user", "detail")
        .order_by("-id")
        .first()
    )
    if entry is None:
        return None
    before = entry.detail.before.get("stage") if hasattr(entry, "detail") else None
    return Handover(entry.member, entry.at, before if before in Stage.values else Stage.INSTALLED)
