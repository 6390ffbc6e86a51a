"""Which addresses a company must not write to."""

from django.db.models import Q, QuerySet

from fleet.models import Member
from fleet.queries.visibility import sees_only_own_sites
from onboarding.addresses import every_address_key, mailbox_of
from onboarding.models import Suppression
from onboarding.queries.owners import visible_owners


def standing_suppressions(member: Member) -> QuerySet[Suppression]:
    """The standing entries of the member's company, newest first; to a member who sees some sites only, those of the
    owners there.
    """
    standing = Suppression.objects.filter(company_id=member.company_id, lifted_at__isnull=True).order_by("-id")
    if not sees_only_own_sites(member):
        return standing
    addresses = set(visible_owners(member).exclude(email="").values_list("email", flat=True))
    own = {key for each in addresses for key in every_address_key(member.company_id, each)}
    boxes = {key for each in addresses for key in every_address_key(member.company_id, mailbox_of(each))}
    return standing.filter(Q(address_mac__in=own) | Q(mailbox_mac__in=boxes))
