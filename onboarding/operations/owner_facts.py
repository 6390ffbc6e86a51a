"""What is known of an owner, checked and saved; shared by the acts of staff and the owner's own."""

from dataclasses import asdict, dataclass

from django.db import IntegrityError, transaction
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from fleet.models import Member, Site, User
from fleet.operations.audit import record_act
from fleet.operations.refusals import BadInput, Conflicting, NotAllowed, NotThere
from fleet.operations.rollback import unchanged_if_refused
from fleet.queries.visibility import sees_only_own_sites
from fleet.search import reindex
from onboarding.mail.addresses import BadAddress, usable_address
from onboarding.models import Invitation, InvitationState, Owner, Ownership, Stream
from onboarding.models.invitation import OPEN_STATES
from onboarding.operations import held
from onboarding.operations.deliveries import queue_delivery, stop_queued
from onboarding.operations.invitation_states import end_links, move
from onboarding.operations.suppressions import standing_suppression
from onboarding.queries.owners import visible_owners


class UnknownOwner(NotThere):
    """No such owner for this member or user."""

    code = "unknown_owner"


class OwnerAddressTaken(Conflicting):
    """The company knows this address already, of an owner whom the member may see; ``facts["owner"]`` is their id."""

    code = "owner_address_taken"
    sentence = _(
        "An owner with this e-mail address is in the register already. Nothing was saved; "
        "attach that owner to the site, or check the address."
    )


class OfficeReaddresses(NotAllowed):
    """The owner has other sites too, whose mail would follow the new address."""

    code = "office_readdresses"
    sentence = _(
        "Mail to this owner is about other sites too, so the office changes their address. Nothing was saved; change "
        "the rest here, and tell the office the address."
    )


class OwnsAlready(Conflicting):
    """The person owns the site now."""

    code = "owns_already"
    sentence = _("This person is an owner of this site already.")


class BadOwnerFacts(BadInput):
    """Some facts cannot be used; ``facts["errors"]`` maps fields to messages."""

    code = "bad_owner_facts"


@dataclass(frozen=True, kw_only=True)
class OwnerFacts:
    """What is known of an owner. Everything here is personal data."""

    name: str
    email: str = ""
    phone: str = ""
    postal_address: str = ""
    kind: str = Owner.Kind.PERSON
    language: str = "en"


BAD_ADDRESS = _("This is not an address that mail could be sent to. Check it for typing mistakes.")
REFUSED_ADDRESS = _(
    "This address cannot be entered here. Check it for typing mistakes, or leave it out and tell the office."
)
"""One sentence for an address that mail cannot reach and for one of an owner whom the member may not see."""


def clean(facts: OwnerFacts, *, bad_address: str | Promise = BAD_ADDRESS) -> OwnerFacts:
    """``facts`` tidied. Raises BadOwnerFacts, with ``bad_address`` for an address that cannot be used."""
    name = " ".join(facts.name.split())
    errors: dict[str, str | Promise] = {}
    if not 1 <= len(name) <= 120:
        errors["name"] = _("Give a name of at most 120 characters.")
    if any(len(text) > most for text, most in ((facts.phone, 40), (facts.postal_address, 300))):
        errors["phone"] = _("The telephone takes 40 characters, the postal address 300.")
    if facts.kind not in Owner.Kind.values:
        errors["kind"] = _("Choose person or organisation.")
    if not 2 <= len(facts.language) <= 10:
        errors["language"] = _("Choose one of the languages.")
    written = ""
    if facts.email.strip():
        try:
            written = usable_address(facts.email).written
        except BadAddress:
            errors["email"] = bad_address
    if errors:
        raise BadOwnerFacts(errors=errors)
    return OwnerFacts(
        name=name,
        email=written,
        phone=facts.phone.strip(),
        postal_address=facts.postal_address.strip(),
        kind=facts.kind,
        language=facts.language,
    )


def clean_by(member: Member, facts: OwnerFacts) -> OwnerFacts:
    """``facts`` tidied, as ``member`` typed them. Raises BadOwnerFacts."""
    return clean(facts, bad_address=REFUSED_ADDRESS if sees_only_own_sites(member) else BAD_ADDRESS)


def make_owner(company_id: int, facts: OwnerFacts, *, seen_by: Member | None = None) -> Owner:
    """A new owner row. Raises OwnerAddressTaken, or BadOwnerFacts where ``seen_by`` may not see whose address it is."""
    _refuse_taken(company_id, facts.email, seen_by)
    try:
        with transaction.atomic():
            return Owner.objects.create(company_id=company_id, **asdict(facts))
    except IntegrityError as error:
        raise OwnerAddressTaken from error


def save_owner(owner: Owner, facts: OwnerFacts, *, seen_by: Member | None = None) -> None:
    """Write ``facts`` to the owner's row. Raises as ``make_owner`` does."""
    _refuse_taken(owner.company_id, facts.email, seen_by, besides=owner)
    for field, value in asdict(facts).items():
        setattr(owner, field, value)
    try:
        with transaction.atomic():
            owner.save(update_fields=list(asdict(facts)))
    except IntegrityError as error:
        raise OwnerAddressTaken from error


def _refuse_taken(company_id: int, email: str, seen_by: Member | None, *, besides: Owner | None = None) -> None:
    if not email:
        return
    holders = Owner.objects.filter(company_id=company_id, email__iexact=email)
    holder = (holders.exclude(pk=besides.pk) if besides else holders).first()
    if holder is None:
        return
    if seen_by is not None and not visible_owners(seen_by).filter(pk=holder.pk).exists():
        raise BadOwnerFacts(errors={"email": REFUSED_ADDRESS})
    raise OwnerAddressTaken(field="email", owner=str(holder.public_id))


def facts_of(owner: Owner) -> OwnerFacts:
    """What the row says now."""
    return OwnerFacts(
        name=owner.name,
        email=owner.email,
        phone=owner.phone,
        postal_address=owner.postal_address,
        kind=owner.kind,
        language=owner.language,
    )


def begin_ownership(owner: Owner, site: Site) -> Ownership:
    """The owner owns the site from now on."""
    ownership = Ownership.objects.create(company_id=site.company_id, site=site, owner=owner)
    reindex([site.pk])
    return ownership


def reindex_owner(owner: Owner) -> None:
    """Every site of the owner is found by what is known of them now."""
    reindex(Ownership.objects.filter(owner=owner).values_list("site_id", flat=True))


def require_owns(owner: Owner, site: Site) -> None:
    """Raise UnknownOwner unless the owner owns the site now."""
    if not Ownership.objects.filter(owner=owner, site=site, until__isnull=True).exists():
        raise UnknownOwner


def address_changed(owner: Owner) -> None:
    """Links in mails to the old address are dead; an invitation under way starts again at the new one."""
    open_ones = Invitation.objects.filter(owner=owner, state__in=OPEN_STATES).select_related(
        "company__policy", "site__company", "owner"
    )
    for invitation in open_ones:
        invitation.owner = owner
        end_links(invitation)
        stop_queued(invitation=invitation)
        if invitation.state != InvitationState.HELD:
            move(invitation, since=OPEN_STATES, to=InvitationState.DRAFT, what="address_changed")
        held.place(invitation)


def tell_both_addresses(owner: Owner, before: str) -> None:
    """The company writes to another address from now on: a notice to either, which says nothing of the other."""
    for address, template in ((before, "owner_address_before"), (owner.email, "owner_address_now")):
        if address and standing_suppression(company_id=owner.company_id, address=address) is None:
            queue_delivery(
                stream=Stream.ACCOUNT,
                template=template,
                to_address=address,
                language=owner.language,
                company=owner.company,
                owner=owner,
                user=owner.user,
            )


@unchanged_if_refused
def audit_owner(
    act: str,
    owner: Owner,
    site: Site | None,
    *,
    actor: Member | None = None,
    user: User | None = None,
    before: dict[str, str] | None = None,
    after: dict[str, str] | None = None,
) -> None:
    """The audit entry of an act about an owner, by a member or by the owner themselves."""
    record_act(
        act=act,
        company=owner.company,
        about=owner,
        actor=actor,
        user=user,
        role="" if actor else "owner",
        site=site,
        before=before,
        after=after,
    )
