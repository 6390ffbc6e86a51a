"""The two statements around a letter's text, and what each outcome means for its row."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from random import Random
from typing import Any

from django.db import connection, transaction
from django.db.models import F, QuerySet
from django.utils import timezone

from onboarding.mail.replies import wait_before_retry
from onboarding.mail.transport import Fate, Outcome
from onboarding.models import (
    ConsentStanding,
    Delivery,
    DeliveryState,
    InvitationState,
    MailDomain,
    Purpose,
    Stream,
    Suppression,
)
from onboarding.operations.claiming import Claimed, hold_heads, lease_end, stop_unpermitted
from onboarding.operations.deliveries import GIVE_UP_ELSE
from onboarding.operations.invitation_results import mark_bounced, mark_failed, mark_sent, mark_stopped, note_unknown
from onboarding.operations.permitted import borne_out_by_ledger, derived_standings, permitted
from onboarding.operations.suppressions import suppress

RELAY = ""
"""The MailDomain row that stands for the mail server itself."""

_HELD = (DeliveryState.CLAIMED, DeliveryState.TRANSMITTING, DeliveryState.UNKNOWN)
_random = Random()  # jitter only  # noqa: S311


def permit(claimed: Claimed) -> bool:
    """``claimed → transmitting``: the one conditional UPDATE between recipient and text. Call inside a transaction
    that holds the ledger's head. The permission is derived anew from its entries for it. Refused: the mail is stopped
    and its invitation held with the reason.
    """
    delivery = claimed.delivery
    _hold_standing(delivery)
    standing = derived_standings([delivery]).get((delivery.site_id, delivery.owner_id))
    mine = Delivery.objects.filter(pk=delivery.pk, claim=claimed.claim, state=DeliveryState.CLAIMED)
    may_go = permitted(delivery.stream) & borne_out_by_ledger(delivery, standing)
    won = mine.filter(may_go, stream=delivery.stream).update(
        state=DeliveryState.TRANSMITTING, transmitting_at=timezone.now(), claimed_until=lease_end()
    )
    if won:
        return True
    if mine.exists():
        stop_unpermitted(delivery)
    return False


def record(claimed: Claimed, outcome: Outcome) -> None:
    """Write down what a try came to. Call inside a transaction. What somebody else settled meanwhile stays.

    What a sent mail means beyond its row is told afterwards, many at once, by ``tell_sent``.
    """
    if outcome.fate is Fate.SENT:
        _move(claimed, outcome, DeliveryState.SENT)
    elif outcome.fate is Fate.LATER:
        _later(claimed, outcome)
    elif outcome.fate is Fate.REFUSED:
        _refused(claimed, outcome)
    elif outcome.fate is Fate.CANNOT:
        if _move(claimed, outcome, DeliveryState.STOPPED):
            mark_stopped(delivery=claimed.delivery, reason="bad_address")
    elif _move(claimed, outcome, DeliveryState.UNKNOWN):
        note_unknown(delivery=claimed.delivery)


def tell_sent(deliveries: Sequence[Delivery]) -> None:
    """Tell the invitations of mails that were sent that they were, and their receiving domains that all is well again,
    in one transaction; telling an invitation twice changes nothing.
    """
    if not deliveries:
        return
    domains = {delivery.to_domain for delivery in deliveries} | {RELAY}
    with transaction.atomic():
        hold_heads(delivery.company_id for delivery in deliveries if delivery.invitation_id is not None)
        mark_sent(deliveries)
        MailDomain.objects.filter(domain__in=domains, refusals__gt=0).update(refusals=0)


def tell_missed() -> None:
    """Tell what a sender that was lost in between did not: its mail is sent, its invitation still says queued."""
    missed = Delivery.objects.filter(
        state=DeliveryState.SENT,
        stream=Stream.INVITATION,
        invitation__state=InvitationState.QUEUED,
        send_number=F("invitation__send_number"),
    )
    tell_sent(list(missed[:200]))


def relay_paused() -> bool:
    """Whether the mail server was out of reach so lately that nobody need try yet."""
    return MailDomain.objects.filter(domain=RELAY, paused_until__gt=timezone.now()).exists()


def end_too_late() -> None:
    """Account mail that nobody could send in time is not sent late: its link would be dead."""
    late = Delivery.objects.filter(state=DeliveryState.QUEUED, stream=Stream.ACCOUNT, give_up_at__lt=timezone.now())
    late.update(state=DeliveryState.FAILED, reply_class="too_late", ended_at=timezone.now(), context={})


def _refused(claimed: Claimed, outcome: Outcome) -> None:
    delivery = claimed.delivery
    if not _move(claimed, outcome, DeliveryState.FAILED):
        return
    if outcome.gone:
        if delivery.company:
            suppress(company=delivery.company, address=delivery.to_address, reason=Suppression.Reason.BOUNCED)
        mark_bounced(delivery=delivery, permanent=True)
    else:
        mark_failed(delivery=delivery, reason=outcome.code or outcome.reply_class)


def _later(claimed: Claimed, outcome: Outcome) -> None:
    delivery, now = claimed.delivery, timezone.now()
    if outcome.about_server:
        _pause(RELAY, outcome.reply_class, now)
    elif outcome.reply_class == "server_busy":
        _pause(delivery.to_domain, outcome.reply_class, now)
    attempts = delivery.attempts + (0 if outcome.about_server else 1)
    give_up_at = delivery.give_up_at
    if delivery.attempts == 0 and delivery.stream != Stream.ACCOUNT:
        give_up_at = max(give_up_at, now + GIVE_UP_ELSE)
    retry_at = now + _wait(outcome, attempts)
    if retry_at >= give_up_at:
        gave_up = Outcome(Fate.REFUSED, "gave_up", outcome.reply)
        if _move(claimed, gave_up, DeliveryState.FAILED):
            mark_failed(delivery=delivery, reason="gave_up")
        return
    _mine(claimed).update(
        state=DeliveryState.QUEUED,
        attempts=attempts,
        not_before=retry_at,
        give_up_at=give_up_at,
        reply_code=outcome.code,
        reply_class=outcome.reply_class,
        claim=None,
        claimed_until=None,
        transmitting_at=None,
        ended_at=None,
    )


def _wait(outcome: Outcome, attempts: int) -> timedelta:
    if outcome.about_server:
        return timedelta(0)  # the pause of the server holds every mail back alike
    return wait_before_retry(outcome.reply_class, attempts, _random)


def _pause(domain: str, reply_class: str, now: datetime) -> None:
    row, made = MailDomain.objects.select_for_update().get_or_create(domain=domain)
    if not made and row.paused_until > now and domain == RELAY:
        return  # several hands met the same closed door
    pause = wait_before_retry(reply_class, row.refusals + 1, _random)
    MailDomain.objects.filter(pk=domain).update(paused_until=now + pause, refusals=min(row.refusals + 1, 30))


def _move(claimed: Claimed, outcome: Outcome, state: DeliveryState) -> bool:
    columns: dict[str, Any] = {"context": {}} if claimed.delivery.stream == Stream.ACCOUNT else {}
    if outcome.provider_id:
        columns["provider_id"] = outcome.provider_id
    won = _mine(claimed).update(
        state=state,
        attempts=F("attempts") + 1,
        reply_code=outcome.code,
        reply_class=outcome.reply_class,
        ended_at=timezone.now(),
        claim=None,
        claimed_until=None,
        **columns,
    )
    return won == 1


def _mine(claimed: Claimed) -> QuerySet[Delivery]:
    return Delivery.objects.filter(pk=claimed.delivery.pk, claim=claimed.claim, state__in=_HELD)


def _hold_standing(delivery: Delivery) -> None:
    if connection.vendor == "postgresql" and delivery.owner_id and delivery.site_id:
        with connection.cursor() as cursor:
            cursor.execute(
                f"SELECT state FROM {ConsentStanding._meta.db_table} "  # noqa: S608  # a constant of our own
                "WHERE site_id = %s AND owner_id = %s AND purpose = %s FOR SHARE",
                [delivery.site_id, delivery.owner_id, Purpose.CONTACT.value],
            )
