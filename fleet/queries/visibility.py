"""What a member may see. Every other read starts here."""

from datetime import timedelta

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from fleet.models import Assignment, Device, Member, Placement, Site, SiteSighting
from fleet.models.company import FieldSight

SIGHTING_LASTS = timedelta(days=30)


def visible_sites(member: Member) -> QuerySet[Site]:
    """The sites ``member`` may see: all of the company, or by policy only assigned and recently sighted ones."""
    sites = Site.objects.filter(company_id=member.company_id)
    if not sees_only_own_sites(member):
        return sites
    return sites.filter(Exists(_assigned(member)) | Exists(_sighted(member)))


def sees_only_own_sites(member: Member) -> bool:
    """Whether the company's policy narrows what this member sees."""
    return member.is_field and member.company.policy.field_sight == FieldSight.ASSIGNED


def may_see(member: Member, site: Site) -> bool:
    """Whether ``member`` may see ``site``."""
    return visible_sites(member).filter(pk=site.pk).exists()


def own_site_ids(member: Member, most: int) -> list[int]:
    """The keys of the sites assigned to ``member`` or lately sighted, at most ``most``; by the member's own rows."""
    assigned = member.assignments.filter(running_assignments()).values_list("site")
    sighted = member.sightings.filter(seen_at__gte=timezone.now() - SIGHTING_LASTS).values_list("site")
    return [row[0] for row in assigned.union(sighted)[:most]]


def running_assignments() -> Q:
    """Assignments that have not ended."""
    return Q(until__isnull=True) | Q(until__gte=timezone.localdate())


def visible_placements(member: Member) -> QuerySet[Placement]:
    """Placements at visible sites."""
    return Placement.objects.filter(company_id=member.company_id, site__in=visible_sites(member))


def visible_devices(member: Member) -> QuerySet[Device]:
    """Devices of the company; for narrowed field members those that stand or stood at a visible site."""
    devices = Device.objects.filter(company_id=member.company_id)
    if not sees_only_own_sites(member):
        return devices
    return devices.filter(Exists(visible_placements(member).filter(device=OuterRef("pk"))))


def _assigned(member: Member) -> QuerySet[Assignment]:
    return Assignment.objects.filter(running_assignments(), member=member, site=OuterRef("pk"))


def _sighted(member: Member) -> QuerySet[SiteSighting]:
    return SiteSighting.objects.filter(member=member, site=OuterRef("pk"), seen_at__gte=timezone.now() - SIGHTING_LASTS)
