"""What owners do about themselves: their own facts, a new address, a second owner."""

from dataclasses import asdict

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from fleet.models import Site, User
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.site_guard import refuse_retired
from onboarding.models import Owner, Ownership
from onboarding.operations.consents import OwnersWord, record_co_owners_word
from onboarding.operations.invitations import queue_for_owner
from onboarding.operations.ledger import lock_head
from onboarding.operations.owner_facts import (
    BadOwnerFacts,
    OwnerFacts,
    UnknownOwner,
    address_changed,
    audit_owner,
    begin_ownership,
    clean,
    facts_of,
    make_owner,
    reindex_owner,
    require_owns,
    save_owner,
)


@unchanged_if_refused
@transaction.atomic
def edit_own_facts(*, word: OwnersWord, owner: Owner, phone: str, postal_address: str, language: str) -> Owner:
    """An owner corrects their own telephone, postal address and language. Raises UnknownOwner or BadOwnerFacts."""
    _require_theirs(word.user, owner)
    before = facts_of(owner)
    facts = clean(
        OwnerFacts(
            name=owner.name,
            email=owner.email,
            kind=owner.kind,
            phone=phone,
            postal_address=postal_address,
            language=language,
        )
    )
    save_owner(owner, facts)
    User.objects.filter(pk=word.user.pk).update(language=facts.language)
    reindex_owner(owner)
    audit_owner("edit_own_facts", owner, None, user=word.user, before=asdict(before), after=asdict(facts))
    return owner


@transaction.atomic
def follow_account_address(*, user: User, email: str) -> None:
    """The user's account has a new, confirmed address: their owner rows follow, in every company.

    A company where another owner has that address keeps the old one; the office sees both.
    """
    # whose account rests on a letter's code may be somebody else
    theirs = Owner.objects.filter(user=user, erased_at__isnull=True, account_by_letter=False)
    for owner in theirs.select_related("company").order_by("company"):
        if owner.email.casefold() == email.casefold():
            continue
        taken = Owner.objects.filter(company=owner.company, email__iexact=email).exclude(pk=owner.pk).exists()
        if taken:
            continue
        lock_head(owner.company)
        before = owner.email
        owner.email = email
        owner.save(update_fields=["email"])
        address_changed(owner)
        reindex_owner(owner)
        audit_owner("follow_address", owner, None, user=user, before={"email": before}, after={"email": email})


@unchanged_if_refused
@transaction.atomic
def name_second_owner(*, word: OwnersWord, owner: Owner, site: Site, name: str, email: str, language: str) -> Owner:
    """An owner names another owner of the same site, who is invited on their word (weak evidence).

    The answer does not tell whether the company knew the address already.

    Raises UnknownOwner, SiteRetired or BadOwnerFacts.
    """
    _require_theirs(word.user, owner)
    require_owns(owner, site)
    refuse_retired(site)
    facts = clean(OwnerFacts(name=name, email=email, language=language))
    if not facts.email:
        raise BadOwnerFacts(errors={"email": _("Give the address that the invitation goes to.")})
    lock_head(site.company)
    known = Owner.objects.filter(company=site.company, email__iexact=facts.email, erased_at__isnull=True).first()
    second = known or make_owner(site.company_id, facts)
    if Ownership.objects.filter(owner=second, site=site, until__isnull=True).exists():
        return second
    begin_ownership(second, site)
    record_co_owners_word(word=word, named_by=owner, owner=second, site=site)
    audit_owner("name_second_owner", second, site, user=word.user, after=asdict(facts))
    queue_for_owner(site=site, owner=second)
    return second


def _require_theirs(user: User, owner: Owner) -> None:
    if owner.user_id != user.pk:
        raise UnknownOwner
