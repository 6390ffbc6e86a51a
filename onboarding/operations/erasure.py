"""Erasing what a company keeps about an owner. What proves that the company was allowed to act stays: ids, times,
roles, wording versions, and until a set date a keyed hash of the address. Suppressions stay too.
"""

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import AuditDetail, AuditEntry, Member, Site
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import Conflicting
from fleet.operations.rollback import unchanged_if_refused
from fleet.search import reindex
from fleet.search.vocabulary import forget_unused_words
from onboarding.addresses import address_key, every_address_key, new_mac_key
from onboarding.ledger.standing import GRANTING
from onboarding.models import (
    ConsentDetail,
    ConsentStanding,
    ConsentState,
    Delivery,
    Invitation,
    InvitationState,
    MailReport,
    Owner,
    Ownership,
    Suppression,
)
from onboarding.models.invitation import OPEN_STATES
from onboarding.moments import months_later
from onboarding.operations.account_erasure import NO_NAME, erase_account
from onboarding.operations.consent_lines import end_by_system
from onboarding.operations.deliveries import stop
from onboarding.operations.invitation_states import end_links, move
from onboarding.operations.keys import require_address_keys
from onboarding.operations.ledger import lock_head
from onboarding.operations.owner_facts import UnknownOwner
from onboarding.operations.signatures import forget_signatures


class AlreadyErased(Conflicting):
    """There is nothing left to erase."""

    code = "already_erased"
    sentence = _("This person's data was erased before. Nothing was changed.")


@unchanged_if_refused
@transaction.atomic
def erase_owner(*, actor: Member, owner: Owner) -> None:
    """Erase the personal data of ``owner`` at the actor's company, and end what still stands for them.

    Their account goes too, unless the same person is a member or another company's owner. Raises NotAllowed,
    UnknownOwner, AlreadyErased or AddressKeyNotHere.
    """
    require(actor, Act.ERASE_OWNER)
    if owner.company_id != actor.company_id:
        raise UnknownOwner
    require_address_keys()
    lock_head(actor.company)
    owner = Owner.objects.select_related("user", "company__policy").get(pk=owner.pk)
    if owner.erased_at is not None:
        raise AlreadyErased
    sites = list(Site.objects.filter(ownerships__owner=owner).distinct())
    _end_all(actor, owner)
    _erase_ledger_details(owner)
    _erase_audit_details(owner)
    _suppressions(owner).update(address="")
    _erase_mail(owner)
    user = owner.user
    _erase_row(owner)
    if user is not None:
        erase_account(user)
    record_act(
        act="erase_owner",
        company=actor.company,
        about=owner,
        actor=actor,
        after={"sites": [each.code for each in sites]},
    )
    reindex([site.pk for site in sites])
    forget_unused_words(owner.company_id)


def forget_address_keys() -> int:
    """The keyed hashes of erased owners' addresses whose date has come; returns how many owners they were of.

    What an address is suppressed by stays.
    """
    due = list(
        Owner.objects.exclude(address_mac="").filter(kept_until__lte=timezone.now()).values_list("pk", flat=True)
    )
    Delivery.objects.filter(owner__in=due).update(address_mac="", mac_key="")
    return Owner.objects.filter(pk__in=due).update(address_mac="", mac_key="", kept_until=None)


def _end_all(actor: Member, owner: Owner) -> None:
    """Ownerships, permissions, invitations and mails end; nobody is written to about it."""
    Ownership.objects.filter(owner=owner, until__isnull=True).update(until=timezone.now())
    standings = ConsentStanding.objects.filter(owner=owner, state__in=GRANTING)
    for standing in standings.select_related("site__company", "owner", "entry__wording"):
        end_by_system(standing=standing, state=ConsentState.INVALIDATED, reason="erasure", actor=actor)
    for invitation in Invitation.objects.filter(owner=owner).select_related("site"):
        move(
            invitation, since=OPEN_STATES, to=InvitationState.CANCELLED, member=actor, facts={"reason": "erasure"},
            indexed=False,
        )  # fmt: skip
        end_links(invitation)
    stop(Delivery.objects.filter(_mails_of(owner)), reason="cancelled")


def _erase_ledger_details(owner: Owner) -> None:
    forget_signatures(owner)
    details = list(ConsentDetail.objects.filter(entry__owner=owner))
    for detail in details:
        detail.erased = sorted({*detail.erased, *detail.values})
        detail.values = {}
        detail.erased_at = timezone.now()
    ConsentDetail.objects.bulk_update(details, ["values", "erased", "erased_at"], batch_size=500)


def _erase_audit_details(owner: Owner) -> None:
    """What was typed about them, and from where they acted themselves."""
    here = AuditEntry.objects.filter(company=owner.company_id)
    typed = here.filter(object_type="owner", object_id=str(owner.public_id))
    entered = here.filter(object_type="suppression", object_id__in=[str(row.public_id) for row in _suppressions(owner)])
    about_them = AuditDetail.objects.filter(Q(entry__in=typed) | Q(entry__in=entered))
    about_them.update(before={}, after={}, origin="", erased_at=timezone.now())
    if owner.user_id is not None:
        own = here.filter(user=owner.user_id, member__isnull=True)
        AuditDetail.objects.filter(entry__in=own).update(origin="")


def _erase_mail(owner: Owner) -> None:
    mails = Delivery.objects.filter(_mails_of(owner))
    MailReport.objects.filter(delivery__in=mails).update(facts={})
    mails.update(to_address="", to_domain="", context={})


def _suppressions(owner: Owner) -> QuerySet[Suppression]:
    """Entries about the owner's address, and about earlier ones that they were written to at."""
    earlier = Delivery.objects.filter(_mails_of(owner)).exclude(address_mac="").values("address_mac")
    own = every_address_key(owner.company_id, owner.email) if owner.email else []
    known = Q(address_mac__in=own) | Q(address_mac__in=earlier)
    return Suppression.objects.filter(known, company=owner.company_id)


def _erase_row(owner: Owner) -> None:
    now = timezone.now()
    if owner.email:
        owner.address_mac, owner.mac_key = address_key(owner.company_id, owner.email), new_mac_key()
    owner.kept_until = months_later(now, owner.company.policy.retention_months)
    owner.name, owner.email, owner.phone, owner.postal_address = NO_NAME, "", "", ""
    owner.user, owner.erased_at = None, now
    owner.save()


def _mails_of(owner: Owner) -> Q:
    return Q(company=owner.company_id, owner=owner)
