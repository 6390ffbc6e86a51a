"""A company's catalogue: makers and models, and how many of each stand somewhere."""

from django.db.models import Count, Q, QuerySet

from fleet.models import DeviceModel, LinkDomain, Member


def catalogue_of(member: Member) -> QuerySet[DeviceModel]:
    """Every model of the company with ``standing`` (devices of it that stand somewhere), by kind, maker and name."""
    standing = Count("devices__placements", filter=Q(devices__placements__until__isnull=True), distinct=True)
    return (
        DeviceModel.objects.filter(company_id=member.company_id)
        .select_related("maker")
        .annotate(standing=standing)
        .order_by("kind", "maker__name", "name")
    )


def link_domains_of(member: Member) -> QuerySet[LinkDomain]:
    """The domains whose links identify devices, by name."""
    return LinkDomain.objects.filter(company_id=member.company_id).order_by("domain")
