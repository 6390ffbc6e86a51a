"""Finding one site, or the member's sites in order."""

from django.db.models import Q

from fleet.labels.sitecode import parse_site_code
from fleet.models import Member, Site
from fleet.queries.visibility import visible_sites


def has_no_sites(member: Member) -> bool:
    """Whether nothing is registered yet in the member's company."""
    return not Site.objects.filter(company_id=member.company_id).exists()


def site_by_code(member: Member, text: str) -> Site | None:
    """The visible site with this code (as typed: O for 0, small letters, no dash), also by a merged site's old code."""
    code = parse_site_code(text)
    if code is None:
        return None
    return (
        visible_sites(member)
        .filter(Q(code=code) | Q(aliases__code=code))
        .select_related("company", "company__policy")
        .distinct()
        .first()
    )
