"""Which owners a member may see. Whatever looks an owner up by address or id starts here."""

from django.db.models import Exists, OuterRef, QuerySet

from fleet.models import Member, Site
from fleet.queries.visibility import sees_only_own_sites, visible_sites
from onboarding.models import Owner, Ownership


def visible_owners(member: Member) -> QuerySet[Owner]:
    """The owners that ``member`` may see: all of the company, or by policy those of the sites they see."""
    owners = Owner.objects.filter(company_id=member.company_id, erased_at__isnull=True)
    if not sees_only_own_sites(member):
        return owners
    here = Ownership.objects.filter(owner=OuterRef("pk"), until__isnull=True, site__in=visible_sites(member))
    return owners.filter(Exists(here))


def owns_elsewhere(owner: Owner, site: Site) -> bool:
    """Whether ``owner`` owns another site than ``site`` now."""
    return Ownership.objects.filter(owner=owner, until__isnull=True).exclude(site=site).exists()
