"""What of the register's own is stuck: sites without devices, problems found, labels that wait for a person's eye."""

from datetime import timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from fleet.models import HandoverCheck, Member, Outcome, Scan, Site, Stage, UnitDoubt
from fleet.queries.visibility import visible_sites

LABELS_WAIT = timedelta(days=30)
PAGE = 50
IN_SERVICE = (Stage.PLANNED, Stage.INSTALLED, Stage.HANDED_OVER)


def sites_in_stage(member: Member, stage: str) -> QuerySet[Site]:
    """Visible sites in one stage, the longest in it first, with their summaries."""
    sites = visible_sites(member).filter(summary__company_id=member.company_id, summary__stage=stage)
    return sites.select_related("summary").order_by("summary__stage_since", "pk")


def sites_awaiting(member: Member, move: str) -> QuerySet[Site]:
    """Visible sites in service whose next move is this one, the longest waiting first."""
    sites = visible_sites(member).filter(
        summary__company_id=member.company_id, summary__next_move=move, summary__stage__in=IN_SERVICE
    )
    return sites.select_related("summary").order_by("summary__move_since", "pk")


def problems_found(member: Member) -> QuerySet[HandoverCheck]:
    """Checks at visible sites that found a problem, the oldest first."""
    problems = HandoverCheck.objects.filter(company_id=member.company_id, finding=HandoverCheck.Finding.PROBLEM)
    return problems.filter(site__in=visible_sites(member)).exclude(site__stage=Stage.RETIRED).order_by("pk")


def labels_waiting(member: Member) -> QuerySet[Scan]:
    """Scans of the last 30 days that a person must decide and nobody did, and those in doubt, the oldest first.

    A scan counts as decided once the same payload was linked, or found to stand there, at the same site later on; one
    that was answered as a unit which its label contradicts waits until a person settles it, however old it is.
    """
    later = Scan.objects.filter(
        site=OuterRef("site"),
        payload=OuterRef("payload"),
        pk__gt=OuterRef("pk"),
        outcome__in=(Outcome.LINKED, Outcome.ALREADY_HERE),
    )
    asked = Q(outcome__in=(Outcome.CONFIRM, Outcome.ELSEWHERE), received_at__gte=timezone.now() - LABELS_WAIT)
    doubts = UnitDoubt.objects.filter(company_id=member.company_id, settled_at__isnull=True)
    scans = Scan.objects.filter(company_id=member.company_id, site__in=visible_sites(member))
    return scans.filter((asked & ~Exists(later)) | Q(pk__in=doubts.values("scan"))).order_by("pk")
