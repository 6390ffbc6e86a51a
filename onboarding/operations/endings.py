"""Permissions that end say so in time: once before, by a courtesy mail where the owner may be written to, and when
they have ended, by a receipt.
"""

from collections.abc import Iterable, Sequence
from itertools import groupby

from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from fleet.models import Site
from onboarding.ledger.standing import GRANTING
from onboarding.models import (
    ConsentEntry,
    ConsentStanding,
    ConsentState,
    Delivery,
    EndNotice,
    Owner,
    Purpose,
    Stream,
)
from onboarding.operations.consent_lines import end_by_system
from onboarding.operations.deliveries import UnusableAddress, queue_delivery
from onboarding.operations.ledger import lock_head
from onboarding.operations.suppressions import standing_suppression
from onboarding.queries.consents import allowed
from onboarding.queries.endings import runs_out_soon, standing_with_owners, under_older_text

AT_ONCE = 200


def tell_of_endings() -> int:
    """Note every permission that runs out soon or whose text has a newer version, and tell its owner by one mail a
    site. Each answer is told of once for each reason; says how many answers were noted.
    """
    due = _untold().order_by("site_id", "owner_id", "id")[:AT_ONCE]
    groups = groupby(due.values_list("site_id", "owner_id"))
    return sum(_tell(site_id, owner_id) for (site_id, owner_id), _rows in groups)


def end_due_permissions() -> int:
    """Permissions given for a time end when it is over, and their owners get the receipt of it."""
    due = ConsentStanding.objects.filter(state__in=GRANTING, ends_at__lte=timezone.now())
    rows = due.select_related("site__company", "owner", "entry__wording").order_by("site_id", "owner_id", "id")
    groups = groupby(rows[:AT_ONCE], key=lambda standing: (standing.site_id, standing.owner_id))
    return sum(_end(list(standings)) for _key, standings in groups)


def end_what_is_over(*, site: Site, owner: Owner) -> None:
    """What ``owner`` gave at ``site`` for a time that is over ends now, before anything more is said about it.

    Within a transaction, the ledger's head locked.
    """
    over = ConsentStanding.objects.filter(
        state__in=GRANTING, ends_at__lte=timezone.now(), site=site, owner=owner
    ).select_related("site__company", "owner", "entry__wording")
    if standings := list(over.order_by("id")):
        _end_these(standings)


def tell_ended(*, site: Site, owner: Owner, entries: Iterable[ConsentEntry]) -> Delivery | None:
    """The receipt of permissions that ended without the owner's doing; only owners with an account get one.

    Within a transaction.
    """
    ids = [str(entry.entry_id) for entry in entries]
    if not ids or not owner.email or owner.user_id is None:
        return None
    return _queued(Stream.RECEIPT, "permissions_ended", site, owner, {"entries": ids})


def _untold() -> QuerySet[ConsentStanding]:
    return standing_with_owners().filter(_due(EndNotice.Reason.TIME) | _due(EndNotice.Reason.WORDING))


def _due(reason: str) -> Q:
    told = EndNotice.objects.filter(entry=OuterRef("entry"), reason=reason)
    now = timezone.now()
    ends = runs_out_soon(now) & Q(ends_at__gt=now) if reason == EndNotice.Reason.TIME else under_older_text()
    return ends & ~Q(Exists(told))


def _tell(site_id: int, owner_id: int) -> int:
    here = standing_with_owners().filter(site=site_id, owner=owner_id).select_related("site__company", "owner", "entry")
    with transaction.atomic():
        lock_head(Site.objects.select_related("company").get(pk=site_id).company)
        noted = [
            EndNotice(company_id=standing.company_id, entry=standing.entry, reason=reason)
            for reason in EndNotice.Reason.values
            for standing in here.filter(_due(reason))
        ]
        if not noted:
            return 0  # another sweep was here first
        delivery = _tell_owner(here[0].site, here[0].owner)
        for notice in noted:
            notice.delivery = delivery
        EndNotice.objects.bulk_create(noted)
    return len(noted)


def _tell_owner(site: Site, owner: Owner) -> Delivery | None:
    if not owner.email or not allowed(site, owner, Purpose.CONTACT) or _suppressed(owner):
        return None
    return _queued(Stream.COURTESY, "permissions_ending", site, owner, {})


def _queued(stream: str, template: str, site: Site, owner: Owner, context: dict[str, list[str]]) -> Delivery | None:
    try:
        return queue_delivery(
            stream=stream,
            template=template,
            to_address=owner.email,
            language=owner.language,
            company=site.company,
            context=context,
            owner=owner,
            user=owner.user,
            site=site,
        )
    except UnusableAddress:
        return None


def _suppressed(owner: Owner) -> bool:
    return standing_suppression(company_id=owner.company_id, address=owner.email) is not None


def _end(standings: Sequence[ConsentStanding]) -> int:
    with transaction.atomic():
        lock_head(standings[0].site.company)
        return _end_these(standings)


def _end_these(standings: Sequence[ConsentStanding]) -> int:
    site, owner = standings[0].site, standings[0].owner
    entries = [
        end_by_system(standing=standing, state=ConsentState.EXPIRED, reason="time")
        for standing in standings
        if ConsentStanding.objects.filter(pk=standing.pk, entry=standing.entry).exists()
    ]
    tell_ended(site=site, owner=owner, entries=entries)
    return len(entries)
