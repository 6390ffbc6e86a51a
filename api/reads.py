"""What the API's cards and lists gather, each in a fixed number of queries, from what the member may see."""

from django.db.models import QuerySet

from fleet.models import Device, Member, Placement, Site
from fleet.queries.visibility import visible_devices, visible_placements, visible_sites
from onboarding.models import ConsentEntry, Invitation, Owner


def sites_in_order(ids: list[int]) -> list[Site]:
    """These sites, which a search chose for the member, in its order."""
    found = Site.objects.prefetch_related("tags").in_bulk(ids)
    return [found[pk] for pk in ids if pk in found]


def standing_at(site: Site) -> QuerySet[Placement]:
    """The open placements at ``site``, oldest first."""
    return (
        Placement.objects.filter(site=site, until__isnull=True).select_related("device__model__maker").order_by("since")
    )


def owners_of(site: Site) -> QuerySet[Owner]:
    """Who owns ``site`` now."""
    return Owner.objects.filter(ownerships__site=site, ownerships__until__isnull=True).order_by("pk")


def devices_of(member: Member, *, serial: str = "", kind: str = "", site: Site | None = None) -> QuerySet[Device]:
    """The visible devices, narrowed by what is given."""
    devices = visible_devices(member).select_related("model__maker")
    if serial:
        devices = devices.filter(serial=serial)
    if kind:
        devices = devices.filter(kind=kind)
    if site is not None:
        standing = Placement.objects.filter(site=site, until__isnull=True)
        devices = devices.filter(pk__in=standing.values("device"))
    return devices


def placements_of(member: Member, device: Device) -> QuerySet[Placement]:
    """Where ``device`` stood, as far as the member may see it, newest first."""
    return visible_placements(member).filter(device=device).select_related("site").order_by("-since")


def entries_at(site: Site) -> QuerySet[ConsentEntry]:
    """The ledger's entries for ``site``."""
    return ConsentEntry.objects.filter(site=site).select_related("owner", "wording")


def invitations_of(member: Member, *, site: Site | None = None, state: str = "") -> QuerySet[Invitation]:
    """Invitations at visible sites, narrowed by what is given."""
    invitations = Invitation.objects.filter(company_id=member.company_id).select_related("site", "owner")
    if site is not None:
        invitations = invitations.filter(site=site)
    else:
        invitations = invitations.filter(site__in=visible_sites(member))
    if state:
        invitations = invitations.filter(state=state)
    return invitations
