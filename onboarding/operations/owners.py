"""What staff do with owners: register, attach, correct, and end an ownership."""

from dataclasses import asdict

from django.db import transaction
from django.utils import timezone

from fleet.models import Member, Site
from fleet.operations.permissions import Act, may, require
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.site_guard import require_at
from fleet.queries.visibility import may_see
from fleet.search import reindex
from onboarding.ledger.standing import GRANTING
from onboarding.models import ConsentStanding, ConsentState, Invitation, Owner, Ownership
from onboarding.operations.calling_off import call_off
from onboarding.operations.consent_lines import end_by_system
from onboarding.operations.endings import tell_ended
from onboarding.operations.ledger import lock_head
from onboarding.operations.owner_facts import (
    BadOwnerFacts,
    OfficeReaddresses,
    OwnerAddressTaken,
    OwnerFacts,
    OwnsAlready,
    UnknownOwner,
    address_changed,
    audit_owner,
    begin_ownership,
    clean_by,
    facts_of,
    make_owner,
    reindex_owner,
    require_owns,
    save_owner,
    tell_both_addresses,
)
from onboarding.operations.sales import settle_sale
from onboarding.queries.owners import owns_elsewhere, visible_owners

__all__ = [
    "BadOwnerFacts",
    "OfficeReaddresses",
    "OwnerAddressTaken",
    "OwnerFacts",
    "OwnsAlready",
    "UnknownOwner",
    "attach_owner",
    "edit_owner",
    "end_ownership",
    "register_owner",
]


@unchanged_if_refused
@transaction.atomic
def register_owner(
    *,
    actor: Member,
    site: Site,
    name: str,
    email: str = "",
    phone: str = "",
    kind: str = Owner.Kind.PERSON,
    language: str = "en",
    postal_address: str = "",
) -> Owner:
    """A new owner at a site. Raises NotAllowed, UnknownOwner (unseen site), OwnerAddressTaken or BadOwnerFacts."""
    _require_site(actor, site)
    facts = clean_by(
        actor,
        OwnerFacts(name=name, email=email, phone=phone, kind=kind, language=language, postal_address=postal_address),
    )
    owner = make_owner(actor.company_id, facts, seen_by=actor)
    begin_ownership(owner, site)
    audit_owner("register_owner", owner, site, actor=actor, after=asdict(facts))
    return owner


@unchanged_if_refused
@transaction.atomic
def attach_owner(*, actor: Member, site: Site, owner: Owner) -> Ownership:
    """An owner whom the company knows already owns this site too. Raises NotAllowed, UnknownOwner or OwnsAlready."""
    _require_site(actor, site)
    if not visible_owners(actor).filter(pk=owner.pk).exists():
        raise UnknownOwner
    require(actor, Act.ATTACH_OWNER)
    if Ownership.objects.filter(site=site, owner=owner, until__isnull=True).exists():
        raise OwnsAlready
    ownership = begin_ownership(owner, site)
    audit_owner("attach_owner", owner, site, actor=actor)
    return ownership


@unchanged_if_refused
@transaction.atomic
def edit_owner(*, actor: Member, site: Site, owner: Owner, facts: OwnerFacts) -> Owner:
    """Correct what is known of an owner at a site; both addresses hear of a new one.

    Raises NotAllowed, OfficeReaddresses, UnknownOwner, OwnerAddressTaken or BadOwnerFacts.
    """
    _require_site(actor, site)
    require_owns(owner, site)
    facts = clean_by(actor, facts)
    before = facts_of(owner)
    if facts == before:
        return owner
    if facts.email != before.email and not may(actor, Act.READDRESS_OWNER) and owns_elsewhere(owner, site):
        raise OfficeReaddresses(field="email")
    lock_head(owner.company)
    save_owner(owner, facts, seen_by=actor)
    if facts.email != before.email:
        address_changed(owner)
        tell_both_addresses(owner, before.email)
    reindex_owner(owner)
    audit_owner("edit_owner", owner, site, actor=actor, before=asdict(before), after=asdict(facts))
    return owner


@unchanged_if_refused
@transaction.atomic
def end_ownership(*, actor: Member, site: Site, owner: Owner) -> None:
    """The site changed hands: the ownership ends, and with it every permission and any open invitation.

    Raises NotAllowed or UnknownOwner.
    """
    require(actor, Act.CHANGE_OWNER)
    if not may_see(actor, site):
        raise UnknownOwner
    lock_head(site.company)
    ended = Ownership.objects.filter(site=site, owner=owner, until__isnull=True).update(until=timezone.now())
    if ended != 1:
        raise UnknownOwner
    settle_sale(actor=actor, site=site, owner=owner)
    standings = ConsentStanding.objects.filter(site=site, owner=owner, state__in=GRANTING)
    entries = [
        end_by_system(standing=standing, state=ConsentState.INVALIDATED, reason="sale", actor=actor)
        for standing in standings.select_related("site__company", "owner", "entry__wording")
    ]
    tell_ended(site=site, owner=owner, entries=entries)
    call_off(Invitation.objects.filter(site=site, owner=owner), member=actor, reason="sale")
    reindex([site.pk])
    audit_owner("end_ownership", owner, site, actor=actor)


def _require_site(actor: Member, site: Site) -> None:
    require_at(actor, Act.INVITE_OWNER, site, unknown=UnknownOwner)
