"""Answers given with the code of a printed letter: confirmed by the owner's mailbox, or objected to."""

from django.core import signing
from django.db import transaction
from django.utils.translation import gettext_lazy as _

from fleet.models import Site, User
from fleet.operations.audit import record_act
from fleet.operations.refusals import NotThere
from fleet.operations.rollback import unchanged_if_refused
from onboarding.models import ConsentStanding, ConsentState, Delivery, Evidence, Owner
from onboarding.operations.account_erasure import erase_account
from onboarding.operations.consents import confirm_letters_answers, invalidate_letters_answers
from onboarding.operations.ledger import lock_head

SALT = "onboarding.objection"
SAID = frozenset({ConsentState.GIVEN, ConsentState.RENEWED, ConsentState.REFUSED, ConsentState.WITHDRAWN})


class NothingToObjectTo(NotThere):
    """The link is none of ours, or the answers rest on the letter's code no longer."""

    code = "nothing_to_object_to"
    sentence = _("There is no answer that rests on a letter any more. Nothing was changed.")


def objection_name(delivery: Delivery) -> str:
    """The part of a receipt's link by which its reader objects; it cannot be guessed."""
    return signing.dumps(str(delivery.public_id), salt=SALT)


def receipt_named(name: str) -> Delivery:
    """The receipt whose reader follows its link. Raises NothingToObjectTo."""
    try:
        public_id = signing.loads(name, salt=SALT)
    except signing.BadSignature as error:
        raise NothingToObjectTo from error
    found = Delivery.objects.filter(public_id=public_id, owner__isnull=False, site__isnull=False)
    delivery = found.select_related("site__company", "owner__user", "owner__company").first()
    if delivery is None or delivery.owner is None or delivery.site is None:
        raise NothingToObjectTo
    if not _resting_on_letter(delivery.site, delivery.owner):
        raise NothingToObjectTo
    return delivery


@unchanged_if_refused
@transaction.atomic
def object_to_letter(*, receipt: Delivery) -> None:
    """Whoever reads the owner's mail did not give these answers: they are invalid, and the account that gave them is
    closed. The owner may be invited anew. Raises NothingToObjectTo.
    """
    site, owner = receipt.site, receipt.owner
    if site is None or owner is None:
        raise NothingToObjectTo
    lock_head(site.company)
    standings = _resting_on_letter(site, owner)
    if not standings:
        raise NothingToObjectTo
    account = owner.user if owner.account_by_letter else None
    invalidate_letters_answers(standings=standings)
    if account is not None:
        Owner.objects.filter(pk=owner.pk).update(user=None, account_by_letter=False)
        erase_account(account)
    record_act(act="object_to_letter", company=site.company, about=owner, role="recipient", site=site)


@unchanged_if_refused
@transaction.atomic
def confirm_letter_answers(*, user: User) -> None:
    """The mailbox of ``user``'s address answered. Where the register knows the owner by that very address, what they
    answered with a letter's code is their own word from now on.
    """
    waiting = Owner.objects.filter(user=user, account_by_letter=True, email__iexact=user.email, erased_at__isnull=True)
    for owner in waiting.select_related("company").order_by("company"):
        lock_head(owner.company)
        Owner.objects.filter(pk=owner.pk).update(account_by_letter=False)
        owner.account_by_letter = False
        rows = ConsentStanding.objects.filter(owner=owner, entry__evidence=Evidence.LETTER)
        for site in Site.objects.filter(pk__in=rows.values("site")).select_related("company").order_by("pk"):
            said = [each for each in _resting_on_letter(site, owner) if each.state in SAID]
            confirm_letters_answers(user=user, standings=said)
            record_act(
                act="confirm_letter_answers", company=site.company, about=owner, user=user, role="owner", site=site
            )


def _resting_on_letter(site: Site, owner: Owner) -> list[ConsentStanding]:
    rows = ConsentStanding.objects.filter(site=site, owner=owner, entry__evidence=Evidence.LETTER)
    rows = rows.exclude(state=ConsentState.INVALIDATED)
    return list(rows.select_related("site__company", "owner", "entry__wording").order_by("purpose"))
