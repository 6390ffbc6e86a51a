"""Which addresses a company must not write to."""

from django.db.models import QuerySet

from fleet.models import Member
from onboarding.models import Suppression


def standing_suppressions(member: Member) -> QuerySet[Suppression]:
    """The standing entries of the member's company, newest first."""
    return Suppression.objects.filter(company_id=member.company_id, lifted_at__isnull=True).order_by("-id")
