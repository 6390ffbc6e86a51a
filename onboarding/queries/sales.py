"""Owners who told that they sold their house, until the office has acted."""

from django.db.models import QuerySet

from fleet.models import Member, Site
from fleet.queries.visibility import visible_sites
from onboarding.models import Ownership, SaleReport


def open_reports() -> QuerySet[SaleReport]:
    """Reports that were neither taken back nor acted on, of owners who still own the site."""
    return SaleReport.objects.filter(
        taken_back_at__isnull=True, settled_at__isnull=True, ownership__until__isnull=True
    ).select_related("ownership")


def report_of(ownership: Ownership) -> SaleReport | None:
    """What the owner told and has not taken back."""
    return open_reports().filter(ownership=ownership).first()


def reports_at(site: Site) -> dict[int, SaleReport]:
    """The open reports of a site, by the owner's key."""
    return {report.ownership.owner_id: report for report in open_reports().filter(ownership__site=site)}


def reported_sales(member: Member) -> QuerySet[SaleReport]:
    """The open reports at sites that the member may see, who waited longest first."""
    return (
        open_reports()
        .filter(company_id=member.company_id, ownership__site__in=visible_sites(member))
        .select_related("ownership__site", "ownership__owner")
        .order_by("told_at", "id")
    )
