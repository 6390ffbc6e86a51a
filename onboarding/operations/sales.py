"""An owner tells that the house is sold; the office ends the ownership, or keeps it where that was a mistake."""

from datetime import date, timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Member, Site
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import BadInput, Conflicting
from fleet.operations.rollback import unchanged_if_refused
from fleet.queries.visibility import may_see
from onboarding.models import Owner, Ownership, SaleReport
from onboarding.operations.consents import OwnersWord
from onboarding.operations.owner_facts import UnknownOwner, audit_owner
from onboarding.queries.sales import open_reports

AHEAD = timedelta(days=366)


class BadSaleDay(BadInput):
    """A house is not sold before it was owned, nor years ahead."""

    code = "bad_sale_day"
    sentence = _(
        "Give the day on which the house passes to the new owner: not before it was yours here, and at most a year "
        "ahead. Nothing was sent."
    )


class SaleReported(Conflicting):
    """The owner told this already."""

    code = "sale_reported"
    sentence = _("You told this already, and the company knows. Take it back first to give another day.")


class NoSaleReported(Conflicting):
    """There is nothing to take back or to act on."""

    code = "no_sale_reported"
    sentence = _("There is no such message any more: it was taken back, or somebody acted on it. Nothing was changed.")


@unchanged_if_refused
@transaction.atomic
def report_sale(*, word: OwnersWord, owner: Owner, site: Site, sold_on: date) -> SaleReport:
    """An owner says on which day the house passes to somebody else. Nothing ends yet: that is the office's act.

    Raises UnknownOwner, BadSaleDay or SaleReported.
    """
    ownership = _theirs(word, owner, site)
    began = ownership.since.astimezone(site.zone).date()
    if not began <= sold_on <= timezone.localdate(timezone=site.zone) + AHEAD:
        raise BadSaleDay(field="sold_on")
    try:
        with transaction.atomic():
            report = SaleReport.objects.create(company=site.company, ownership=ownership, sold_on=sold_on)
    except IntegrityError as error:
        raise SaleReported from error
    audit_owner("report_sale", owner, site, user=word.user, after={"sold_on": sold_on.isoformat()})
    return report


@unchanged_if_refused
@transaction.atomic
def take_back_sale(*, word: OwnersWord, owner: Owner, site: Site) -> None:
    """The owner keeps the house after all, as long as the office has not acted. Raises UnknownOwner, NoSaleReported."""
    ownership = _theirs(word, owner, site)
    if open_reports().filter(ownership=ownership).update(taken_back_at=timezone.now()) != 1:
        raise NoSaleReported
    audit_owner("take_back_sale", owner, site, user=word.user)


@unchanged_if_refused
@transaction.atomic
def keep_owner(*, actor: Member, site: Site, owner: Owner) -> None:
    """The office found that the owner has not sold: the message is settled, and nothing ends.

    Raises NotAllowed, UnknownOwner or NoSaleReported.
    """
    require(actor, Act.CHANGE_OWNER)
    if not may_see(actor, site):
        raise UnknownOwner
    if not settle_sale(actor=actor, site=site, owner=owner):
        raise NoSaleReported
    audit_owner("keep_owner", owner, site, actor=actor)


@unchanged_if_refused
def settle_sale(*, actor: Member, site: Site, owner: Owner) -> bool:
    """Whether there was an open message of this owner, which the office has acted on now. Inside the act's own
    transaction.
    """
    reports = SaleReport.objects.filter(
        ownership__site=site, ownership__owner=owner, taken_back_at__isnull=True, settled_at__isnull=True
    )
    return reports.update(settled_at=timezone.now(), settled_by=actor) > 0


def _theirs(word: OwnersWord, owner: Owner, site: Site) -> Ownership:
    found = Ownership.objects.filter(owner=owner, site=site, until__isnull=True).first()
    if found is None or owner.user_id != word.user.pk:
        raise UnknownOwner
    return found
