"""Taking in one report: a bounce, a complaint, an automatic reply. Only our own token makes it change anything.

A report is a row first, once by its digest: the same mail twice, or a replay, changes nothing more. What matches no
delivery is the operator's to see, never a company's.
"""

from dataclasses import dataclass
from datetime import timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from onboarding.mail.reports import Report, read_report
from onboarding.mail.return_path import read_opaque
from onboarding.mail.status_report import Recipient
from onboarding.models import Delivery, DeliveryState, MailReport, Suppression
from onboarding.operations.claiming import hold_heads
from onboarding.operations.deliveries import stop_queued
from onboarding.operations.invitation_results import mark_bounced, mark_complained, mark_sent
from onboarding.operations.ledger import lock_head
from onboarding.operations.optouts import opt_out
from onboarding.operations.suppressions import suppress_recipient

HAD_LEFT = (DeliveryState.SENT, DeliveryState.UNKNOWN, DeliveryState.TRANSMITTING)
KEPT_FOR = timedelta(days=180)
MOST_UNMATCHED = 10_000
_ARRIVED = frozenset({"delivered", "relayed", "expanded"})
_WORST_FIRST = ("bounced_permanent", "bounced_transient", "delayed", "delivered", "relayed", "expanded")


@dataclass(frozen=True)
class TakenIn:
    """One message read; ``delivery`` is the one it belongs to, ``fresh`` says that it was not taken in before."""

    report: Report
    delivery: Delivery | None
    fresh: bool


def take_in(raw: bytes, *, envelope_to: tuple[str, ...] = ()) -> TakenIn:
    """Read one incoming message and do what it calls for. ``envelope_to``: the addresses it was delivered to."""
    report = read_report(raw, envelope_to=envelope_to)
    return act_on(report)


def act_on(report: Report) -> TakenIn:
    """Do what a report calls for, once. Automatic replies and other mail are noted and change nothing."""
    with transaction.atomic():
        delivery = _match(report)
        if delivery is not None and delivery.company is not None and "unsubscribed" in report.outcome:
            lock_head(delivery.company)
        elif delivery is not None:
            hold_heads([delivery.company_id])
        kept, fresh = MailReport.objects.get_or_create(
            digest=report.digest,
            defaults={
                "kind": report.kind,
                "outcomes": report.outcome,
                "facts": report.as_document() if report.kind in {"dsn", "feedback"} else {},
                "delivery": delivery,
            },
        )
        if fresh and delivery is not None:
            _apply(report, delivery)
    return TakenIn(report, kept.delivery, fresh)


def forget_old_reports() -> None:
    """Reports are kept half a year, unmatched ones up to ten thousand."""
    MailReport.objects.filter(received_at__lt=timezone.now() - KEPT_FOR).delete()
    surplus = MailReport.objects.filter(delivery__isnull=True).order_by("-pk").values_list("pk", flat=True)
    if oldest := list(surplus[MOST_UNMATCHED : MOST_UNMATCHED + 1]):
        MailReport.objects.filter(delivery__isnull=True, pk__lte=oldest[0]).delete()


def _match(report: Report) -> Delivery | None:
    """The delivery whose return token or leave link the report carries, both secrets of that one mail; a provider that
    gives our token not back names the mail in its own way.
    """
    named = [name for opaque in report.opaques[:5] if (name := read_opaque(opaque, settings.SECRET_KEY))]
    wanted = Q(return_token__in=report.tokens[:5]) | Q(public_id__in=named)
    if report.provider_id and not report.tokens:
        wanted = Q(provider_id=report.provider_id)
    found = list(Delivery.objects.select_related("company", "invitation").filter(wanted)[:2])
    return found[0] if len(found) == 1 else None


def _apply(report: Report, delivery: Delivery) -> None:
    if report.kind == "feedback" and "complained" in report.outcome:
        _complained(delivery)
    elif report.kind == "feedback" and "unsubscribed" in report.outcome:
        opt_out(delivery=delivery)
    elif report.kind == "dsn" and report.recipients:
        _delivery_status(_about(report.recipients, delivery), delivery)


def _about(recipients: list[Recipient], delivery: Delivery) -> Recipient:
    """The entry about our own recipient; where none names it (a forward), the worst."""
    address = delivery.to_address.casefold()
    named = [one for one in recipients if address in {_folded(one.final_recipient), _folded(one.original_recipient)}]
    return min(named or recipients, key=lambda one: _WORST_FIRST.index(one.outcome))


def _folded(address: str | None) -> str:
    return (address or "").casefold()


def _delivery_status(recipient: Recipient, delivery: Delivery) -> None:
    if recipient.outcome in _ARRIVED:
        _settle(delivery, DeliveryState.SENT, (DeliveryState.UNKNOWN,), recipient.outcome, recipient.status)
    elif recipient.action == "failed":
        _bounced(recipient, delivery)


def _bounced(recipient: Recipient, delivery: Delivery) -> None:
    if not _settle(delivery, DeliveryState.FAILED, HAD_LEFT, "bounced", recipient.status):
        return
    if recipient.gone:
        suppress_recipient(delivery=delivery, reason=Suppression.Reason.BOUNCED)
    mark_bounced(delivery=delivery, permanent=recipient.gone)
    if delivery.invitation:
        stop_queued(invitation=delivery.invitation, reason="bounced")


def _complained(delivery: Delivery) -> None:
    if not Delivery.objects.filter(pk=delivery.pk, state__in=HAD_LEFT).exists():
        return
    _settle(delivery, DeliveryState.SENT, (DeliveryState.UNKNOWN, DeliveryState.TRANSMITTING), "complained", None)
    suppress_recipient(delivery=delivery, reason=Suppression.Reason.COMPLAINED)
    mark_complained(delivery=delivery)
    if delivery.invitation:
        stop_queued(invitation=delivery.invitation, reason="complained")


def _settle(delivery: Delivery, state: str, since: tuple[str, ...], reply_class: str, status: str | None) -> bool:
    won = Delivery.objects.filter(pk=delivery.pk, state__in=since).update(
        state=state, reply_class=reply_class, reply_code=status or "", ended_at=timezone.now(), claim=None,
        claimed_until=None,
    )  # fmt: skip
    if won and state == DeliveryState.SENT:
        mark_sent([delivery])
    return won == 1
