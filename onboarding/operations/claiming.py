"""Which mails may leave now, who carries them, and what happens to what a lost sender held.

A claim is a lease: a short transaction that no network wait stands in. A stale claim goes back to the queue, as nothing
had left; a stale *transmitting* becomes unknown and is never sent again by itself.
"""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db import connection, transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils import timezone

from fleet.models import Company
from onboarding.mail.compose import Facts
from onboarding.mail.pace import BURST, after_sending, next_midnight, places_free, quiet_end
from onboarding.models import (
    Delivery,
    DeliveryState,
    HeldReason,
    MailDomain,
    Suppression,
)
from onboarding.operations.deliveries import BY_PERMISSION, stop
from onboarding.operations.held import hold_reason
from onboarding.operations.invitation_results import mark_stopped, note_unknown
from onboarding.operations.letters import letter_facts
from onboarding.operations.permitted import permitted_whatever_stream, sound

LOOKED_AT = 2
"""How many due rows are looked at for each one wanted, because some may not leave yet."""


@dataclass(frozen=True)
class Claimed:
    """One mail that a sweep carries, with what its letter is made of."""

    delivery: Delivery
    claim: UUID
    facts: Facts


def lease_end() -> datetime:
    """Until when a claim taken now holds: longer than a mail server may keep a sender waiting at every step."""
    return timezone.now() + timedelta(seconds=8 * settings.MAIL_TIMEOUT + 10)


def claim_due(most: int) -> list[Claimed]:
    """Claim up to ``most`` mails that may leave now; those that may not are stopped or put off.

    An invitation's link is made here and is known to this sweep only.
    """
    claim, now = uuid4(), timezone.now()
    with transaction.atomic():
        due = list(_due(now).select_for_update(skip_locked=True, of=("self",))[: most * LOOKED_AT])
        awake = [delivery for delivery in due if not _put_off_for_quiet(delivery, now)]
        chosen = _within_pace(_within_day(awake, now), now, most)
        may_go = permitted_whatever_stream(delivery.stream for delivery in awake)
        whole = sound(delivery for delivery in awake if delivery.pk in set(chosen))
        Delivery.objects.filter(pk__in=whole, state=DeliveryState.QUEUED).filter(may_go).update(
            state=DeliveryState.CLAIMED, claim=claim, claimed_until=lease_end()
        )
        carried = [Claimed(delivery, claim, letter_facts(delivery)) for delivery in _carried(claim)]
    _stop_unpermitted(set(chosen) - {one.delivery.pk for one in carried})
    return carried


def anything_due() -> bool:
    """Whether a mail could be claimed now, as far as the queue alone tells."""
    return _due(timezone.now()).exists()


def hold_for_settings() -> int:
    """Without mail settings nothing leaves; say so on what waits. Returns how many were marked."""
    waiting = Delivery.objects.filter(state=DeliveryState.QUEUED, reply_class="")
    return waiting.update(reply_class="no_mail_settings")


def release(claim: UUID, pks: list[int]) -> None:
    """Put claimed mails that were not begun back into the queue, as if never claimed."""
    Delivery.objects.filter(pk__in=pks, claim=claim, state=DeliveryState.CLAIMED).update(
        state=DeliveryState.QUEUED, claim=None, claimed_until=None
    )


def recover_stale() -> tuple[int, int]:
    """Take care of what lost senders held; returns how many went back to the queue and how many are unknown."""
    now = timezone.now()
    stale = Delivery.objects.filter(claimed_until__lt=now)
    back = stale.filter(state=DeliveryState.CLAIMED).update(state=DeliveryState.QUEUED, claim=None, claimed_until=None)
    lost = list(stale.filter(state=DeliveryState.TRANSMITTING))
    return back, sum(_note_lost(delivery) for delivery in lost)


def hold_heads(companies: Iterable[int | None]) -> None:
    """Hold the ledgers of ``companies`` still for this transaction, so that a withdrawal comes wholly before or after.

    A shared lock: senders do not wait for each other, ledger writers (who lock the head for update) and senders do.
    SQLite has one writer at a time and needs none.
    """
    wanted = sorted({company for company in companies if company is not None})
    if not wanted or connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        cursor.execute("SET LOCAL lock_timeout = '5s'")
        cursor.execute(
            "SELECT company_id FROM onboarding_ledgerhead WHERE company_id = ANY(%s) ORDER BY company_id FOR SHARE",
            [wanted],
        )


def _note_lost(delivery: Delivery) -> bool:
    with transaction.atomic():
        hold_heads([delivery.company_id])
        won = Delivery.objects.filter(
            pk=delivery.pk, state=DeliveryState.TRANSMITTING, claim=delivery.claim, claimed_until__lt=timezone.now()
        ).update(state=DeliveryState.UNKNOWN, reply_class="sender_lost", ended_at=timezone.now())
        if won:
            note_unknown(delivery=delivery)
    return bool(won)


def _due(now: datetime) -> QuerySet[Delivery]:
    paused = MailDomain.objects.filter(domain=OuterRef("to_domain")).filter(_no_place(now))
    return (
        Delivery.objects.filter(state=DeliveryState.QUEUED, not_before__lte=now)
        .filter(~Exists(paused))
        .select_related("company__policy", "site")
        .order_by("not_before", "pk")
    )


def _no_place(now: datetime) -> Q:
    full = Q(free_at__gt=now + BURST - _interval()) if settings.MAIL_DOMAIN_PACE else Q(pk__in=[])
    return Q(paused_until__gt=now) | full


def _interval() -> timedelta:
    return timedelta(minutes=1) / settings.MAIL_DOMAIN_PACE


def _put_off_for_quiet(delivery: Delivery, now: datetime) -> bool:
    if delivery.stream not in BY_PERMISSION or delivery.company is None or delivery.site is None:
        return False
    policy = delivery.company.policy
    until = quiet_end(now, delivery.site.zone, policy.quiet_from, policy.quiet_until)
    if until is None:
        return False
    _put_off(delivery, until, now, "quiet_hours")
    return True


def _within_day(deliveries: list[Delivery], now: datetime) -> list[Delivery]:
    """Those that their company's daily limit leaves room for; the others wait for the company's next day."""
    room: dict[int, int] = {}
    kept = []
    for delivery in deliveries:
        company = delivery.company
        if delivery.stream not in BY_PERMISSION or company is None:
            kept.append(delivery)
            continue
        if company.pk not in room:
            room[company.pk] = company.policy.daily_mail_limit - _under_way_today(company, now)
        room[company.pk] -= 1
        if room[company.pk] >= 0:
            kept.append(delivery)
        else:
            _put_off(delivery, next_midnight(now, ZoneInfo(company.policy.default_time_zone)), now, "daily_limit")
    return kept


def _under_way_today(company: Company, now: datetime) -> int:
    zone = ZoneInfo(company.policy.default_time_zone)
    today = next_midnight(now, zone) - timedelta(days=1)
    limited = Delivery.objects.filter(company=company, stream__in=BY_PERMISSION)
    return limited.filter(Q(transmitting_at__gte=today) | Q(state=DeliveryState.CLAIMED)).count()


def _within_pace(deliveries: list[Delivery], now: datetime, most: int) -> list[int]:
    """The first ``most`` that their receiving domains have a place for; takes those places."""
    if not settings.MAIL_DOMAIN_PACE:
        return [delivery.pk for delivery in deliveries[:most]]
    names = sorted({delivery.to_domain for delivery in deliveries})
    MailDomain.objects.bulk_create([MailDomain(domain=name, free_at=now) for name in names], ignore_conflicts=True)
    domains = {
        row.domain: row for row in MailDomain.objects.select_for_update().filter(domain__in=names).order_by("pk")
    }
    free = {name: places_free(row.free_at, now, settings.MAIL_DOMAIN_PACE) for name, row in domains.items()}
    taken: Counter[str] = Counter()
    chosen: list[int] = []
    for delivery in deliveries:
        if len(chosen) < most and taken[delivery.to_domain] < free[delivery.to_domain]:
            taken[delivery.to_domain] += 1
            chosen.append(delivery.pk)
    for name, mails in taken.items():
        free_at = after_sending(domains[name].free_at, now, settings.MAIL_DOMAIN_PACE, mails)
        MailDomain.objects.filter(pk=name).update(free_at=free_at)
    return chosen


def _put_off(delivery: Delivery, until: datetime, now: datetime, why: str) -> None:
    Delivery.objects.filter(pk=delivery.pk).update(
        not_before=until, give_up_at=F("give_up_at") + (until - now), reply_class=why
    )


def _carried(claim: UUID) -> QuerySet[Delivery]:
    return (
        Delivery.objects.filter(claim=claim)
        .select_related("company__policy", "invitation", "owner", "site", "user")
        .order_by("not_before", "pk")
    )


def _stop_unpermitted(pks: set[int]) -> None:
    for delivery in Delivery.objects.filter(pk__in=pks, state=DeliveryState.QUEUED):
        with transaction.atomic():
            hold_heads([delivery.company_id])
            stop_unpermitted(delivery)


def stop_unpermitted(delivery: Delivery) -> None:
    """End a mail that the check refused, and hold its invitation with the reason. Call inside a transaction."""
    reason = _why_not(delivery)
    if stop(Delivery.objects.filter(pk=delivery.pk, claim=delivery.claim), reason=reason):
        mark_stopped(delivery=delivery, reason=reason)


def _why_not(delivery: Delivery) -> str:
    if delivery.site and delivery.owner and (reason := hold_reason(delivery.site, delivery.owner)):
        return reason
    suppressed = Suppression.objects.filter(
        company=delivery.company_id, address_mac=delivery.address_mac, lifted_at__isnull=True
    )
    return HeldReason.OPTED_OUT if suppressed.exists() else HeldReason.NO_CONSENT
