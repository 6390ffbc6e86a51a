"""The one-click way out of a company's mail (RFC 8058)."""

from django.db import transaction

from fleet.models import Site
from fleet.operations.audit import record_act
from onboarding.models import ConsentState, Delivery, Owner, Ownership, Suppression
from onboarding.operations.consents import disown
from onboarding.operations.ledger import lock_head
from onboarding.operations.suppressions import suppress_recipient


@transaction.atomic
def opt_out(*, delivery: Delivery) -> None:
    """Whoever holds the mail wants no more of it: ``contact`` is withdrawn at every site of the owner, the address is
    suppressed for the company, and open invitations are held. Repeating it changes nothing more.
    """
    company = delivery.company
    if company is None:
        return
    lock_head(company)
    suppression = suppress_recipient(delivery=delivery, reason=Suppression.Reason.UNSUBSCRIBED)
    if (
        suppression is None
        or delivery.owner is None
        or delivery.owner.email.casefold() != delivery.to_address.casefold()
    ):
        return
    for site in _open_sites(delivery.owner):
        disown(site=site, owner=delivery.owner, state=ConsentState.WITHDRAWN)
    record_act(act="opt_out", company=company, about=suppression, role="recipient")


def _open_sites(owner: Owner) -> list[Site]:
    answered = owner.consent_standings.filter(purpose="contact", state="withdrawn").values("site")
    held_now = Ownership.objects.filter(owner=owner, until__isnull=True).exclude(site__in=answered)
    return [ownership.site for ownership in held_now.select_related("site__company")]
