"""What an owner sees of their own: sites, what stands there, what they allowed, the receipts of it."""

from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.labels.sitecode import parse_site_code
from fleet.models import Placement, Site, User
from onboarding.ledger.chain import parsed
from onboarding.ledger.receipts import Told
from onboarding.models import (
    ConsentEntry,
    ConsentStanding,
    Invitation,
    InvitationState,
    Owner,
    Ownership,
    Purpose,
    Wording,
)
from onboarding.queries.consents import Permission, permissions
from onboarding.queries.wordings import current_wordings

OWNERS_WORDS = {
    Purpose.MONITORING: _("Measurements of your system"),
    Purpose.HOME_NETWORK: _("Joining your home network"),
    Purpose.CONTACT: _("Mail about this site"),
}


@dataclass(frozen=True)
class Asked:
    """One purpose on an owner's page: what is permitted, the text asked now, and the text they answered to."""

    permission: Permission
    wording: Wording | None

    @property
    def title(self) -> Promise:
        """The purpose in the owner's words."""
        return OWNERS_WORDS[self.permission.purpose]

    @property
    def answered(self) -> Wording | None:
        """The wording of the answer that stands."""
        return self.permission.standing.entry.wording if self.permission.standing else None

    @property
    def text_changed(self) -> bool:
        """Whether the text that was answered has a newer version."""
        return self.permission.older_text

    @property
    def may_be_allowed(self) -> bool:
        """Whether *Allow* makes a difference: there is no confirmed yes to the newest text that still lasts."""
        permission = self.permission
        return not permission.strong or permission.older_text or permission.ends_soon


def ownerships_of(user: User) -> QuerySet[Ownership]:
    """The sites that ``user`` owns now, by town and street, with company and owner row."""
    return (
        Ownership.objects.filter(owner__user=user, owner__erased_at__isnull=True, until__isnull=True)
        .select_related("site__company", "owner__company")
        .order_by("site__town", "site__street", "site_id")
    )


def my_ownership(user: User, code: str) -> Ownership | None:
    """The user's own site with this code."""
    return ownerships_of(user).filter(site__code=code).first()


def owned_by_plate(user: User, text: str) -> Ownership | None:
    """The user's own site with the code on a plate, also one that it had before; read alike for every text."""
    code = parse_site_code(text) or ""
    return ownerships_of(user).filter(Q(site__code=code) | Q(site__aliases__code=code)).first()


def asked_of(site: Site, owner: Owner) -> list[Asked]:
    """Every purpose as the owner's page shows it."""
    wordings = current_wordings(site.company, owner.language)
    return [Asked(each, wordings.get(each.purpose)) for each in permissions(site, owner)]


def standing_there(site: Site) -> list[Placement]:
    """What stands at the site now, by kind."""
    return list(
        Placement.objects.filter(site=site, until__isnull=True)
        .select_related("device__model__maker")
        .order_by("device__kind", "since", "id")
    )


@dataclass(frozen=True)
class OtherOwner:
    """Another owner of the same site; the name is shown once they accepted for themselves."""

    owner: Owner
    accepted: bool


def other_owners(site: Site, owner: Owner) -> list[OtherOwner]:
    """The other present owners of ``site``."""
    others = Ownership.objects.filter(site=site, until__isnull=True).exclude(owner=owner).select_related("owner")
    accepted = set(
        Invitation.objects.filter(site=site, state=InvitationState.ACCEPTED).values_list("owner_id", flat=True)
    )
    return [OtherOwner(each.owner, each.owner_id in accepted) for each in others.order_by("since", "id")]


def my_entries(site: Site, owner: Owner) -> QuerySet[ConsentEntry]:
    """Every line of the ledger about this owner at this site, newest first."""
    return (
        ConsentEntry.objects.filter(site=site, owner=owner)
        .select_related("wording", "site", "owner", "detail")
        .order_by("-position")
    )


def told(entry: ConsentEntry) -> Told:
    """What a receipt of ``entry`` is made of."""
    kept = entry.detail.values
    return Told(
        document=parsed(entry.canonical),
        mac=entry.mac,
        person=entry.owner.name,
        site_address=entry.site.address_line,
        purpose=entry.purpose,
        text=entry.wording.text if entry.wording else "",
        particulars=entry.wording.particulars if entry.wording else {},
        evidence=entry.evidence,
        reference=str(kept["reference"][1]) if "reference" in kept else "",
    )


def reported_on(site: Site, owner: Owner) -> dict[str, ConsentStanding]:
    """What others reported that the owner allows, ``{purpose: standing}``: shown before the owner answers."""
    rows = ConsentStanding.objects.filter(site=site, owner=owner, state="given", strong=False)
    return {row.purpose: row for row in rows.select_related("entry")}
