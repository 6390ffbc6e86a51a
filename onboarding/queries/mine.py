"""What an owner sees of their own: sites, what stands there, what they allowed, the receipts of it."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.labels.sitecode import parse_site_code
from fleet.models import DeviceModel, Maker, Placement, Site, User
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

SHORT_WORDS = {
    Purpose.MONITORING: _("Measurements"),
    Purpose.HOME_NETWORK: _("Home network"),
    Purpose.CONTACT: _("Writing to you"),
}
QUESTIONS = {
    Purpose.MONITORING: _("May %(company)s see what it measures?"),
    Purpose.HOME_NETWORK: _("May it join your home network?"),
    Purpose.CONTACT: _("May %(company)s write to you about it?"),
}
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
    def question(self) -> Promise:
        """The purpose as a question to the owner; ``%(company)s`` asks."""
        return QUESTIONS[self.permission.purpose]

    @property
    def opening(self) -> str:
        """The first sentence of the text that is asked now; the rest is one tap away."""
        text = self.wording.text if self.wording else ""
        return re.split(r"(?<=[.!?])\s", text, maxsplit=1)[0]

    @property
    def short(self) -> Promise:
        """The purpose in one or two words."""
        return SHORT_WORDS[self.permission.purpose]

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


def past_ownerships_of(user: User) -> QuerySet[Ownership]:
    """The sites that ``user`` owned and does not own now, what ended last first."""
    again = Ownership.objects.filter(owner=OuterRef("owner"), site=OuterRef("site"), until__isnull=True)
    return (
        Ownership.objects.filter(owner__user=user, owner__erased_at__isnull=True, until__isnull=False)
        .exclude(Exists(again))
        .select_related("site__company", "owner__company")
        .order_by("-until", "-id")
    )


def my_past_ownership(user: User, code: str) -> Ownership | None:
    """The user's last ownership of the site with this code, where they do not own it now."""
    return past_ownerships_of(user).filter(site__code=code).first()


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
class Alike:
    """Devices of one kind and model that stand at a site."""

    kind: str
    model: DeviceModel | None
    number: int


def alike(placements: Iterable[Placement]) -> list[Alike]:
    """What stands there in few lines: how many of each kind and model, in the order of ``placements``."""
    found: dict[tuple[str, int | None], list[Placement]] = {}
    for placement in placements:
        found.setdefault((placement.device.get_kind_display(), placement.device.model_id), []).append(placement)
    return [Alike(kind, group[0].device.model, len(group)) for (kind, _model), group in found.items()]


def measured_at(placements: Iterable[Placement]) -> list[Maker]:
    """The makers of what stands there that have a page with measurements, by name."""
    makers = {each.device.model.maker for each in placements if each.device.model}
    return sorted((maker for maker in makers if maker.measurements_url), key=lambda maker: maker.name)


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
