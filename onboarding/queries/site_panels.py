"""What a site's page shows of owners, what they allowed, and their invitations."""

from collections import defaultdict
from dataclasses import dataclass, field

from fleet.models import Site
from onboarding.models import ConsentStanding, Invitation, Owner, Ownership, Purpose, SaleReport
from onboarding.queries.consents import Permission, standings
from onboarding.queries.sales import reports_at


@dataclass
class OwnerCard:
    """One present owner of a site with their answers and their latest invitation."""

    owner: Owner
    ownership: Ownership
    permissions: list[Permission] = field(default_factory=list)
    invitation: Invitation | None = None
    sale: SaleReport | None = None

    @property
    def may_be_invited(self) -> bool:
        """Whether *Invite* makes sense: no account yet, and nothing under way."""
        return self.owner.user_id is None and (
            self.invitation is None or self.invitation.state in ("draft", "cancelled", "complained", "replaced")
        )


def owner_cards(site: Site) -> list[OwnerCard]:
    """The present owners of ``site``, in the order they came."""
    ownerships = Ownership.objects.filter(site=site, until__isnull=True).select_related("owner__user")
    cards = {each.owner_id: OwnerCard(each.owner, each) for each in ownerships.order_by("since", "id")}
    found: dict[int, dict[str, ConsentStanding]] = defaultdict(dict)
    for row in standings([site.pk]):
        found[row.owner_id][row.purpose] = row
    for invitation in Invitation.objects.filter(site=site).select_related("owner").order_by("id"):
        if invitation.owner_id in cards:
            cards[invitation.owner_id].invitation = invitation
    sales = reports_at(site)
    for owner_id, card in cards.items():
        card.sale = sales.get(owner_id)
        card.permissions = [Permission(Purpose(each), found[owner_id].get(each)) for each in Purpose.values]
    return list(cards.values())


def past_owners(site: Site) -> list[Ownership]:
    """Who owned the site before, latest first."""
    return list(
        Ownership.objects.filter(site=site, until__isnull=False).select_related("owner").order_by("-until", "-id")
    )
