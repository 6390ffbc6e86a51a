"""What is due by the clock: expiry, reminders, permissions whose time is over. Each is bounded and may run twice."""

from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from fleet.models import CompanyPolicy
from fleet.operations.refusals import ActRefused
from onboarding.models import (
    ConsentDetail,
    ConsentStanding,
    HeldReason,
    Invitation,
    InvitationLink,
    InvitationState,
    Purpose,
)
from onboarding.models.invitation import OPEN_STATES
from onboarding.operations import held
from onboarding.operations.deliveries import stop_queued
from onboarding.operations.endings import end_due_permissions, tell_of_endings
from onboarding.operations.invitation_states import move
from onboarding.operations.invitations import REMINDABLE, remind
from onboarding.operations.ledger import lock_head
from onboarding.queries.consents import yes_now
from onboarding.queries.evidence_check import ORIGINS, ORIGINS_KEPT

AT_ONCE = 200


def sweep() -> dict[str, int]:
    """Do what is due, at most 200 of each kind; says how many of each were done."""
    return {
        "expired": expire_due(),
        "reminded": remind_due(),
        "freed": free_ready(),
        "ended": end_due_permissions(),
        "told": tell_of_endings(),
    }


def expire_due() -> int:
    """Invitations past their time end, and what waits to leave for them is stopped."""
    due = Invitation.objects.filter(state__in=OPEN_STATES, expires_at__lte=timezone.now())
    done = 0
    for invitation in due.select_related("company")[:AT_ONCE]:
        with transaction.atomic():
            lock_head(invitation.company)
            if move(invitation, since=OPEN_STATES, to=InvitationState.EXPIRED):
                stop_queued(invitation=invitation)
                done += 1
    return done


def remind_due() -> int:
    """Reminders by the company's policy: the first so many days after sending, the second so many."""
    done = 0
    for invitation in _to_remind():
        try:
            remind(actor=None, invitation=invitation)
        except ActRefused:
            continue
        done += 1
    return done


def _to_remind() -> list[Invitation]:
    due: list[Invitation] = []
    for policy in CompanyPolicy.objects.all():
        waits = (policy.first_reminder_days, policy.second_reminder_days)
        for reminders, days in enumerate(waits):
            if days and len(due) < AT_ONCE:
                due += _sent_before(policy.company_id, reminders, timezone.now() - timedelta(days=days))
    return due[:AT_ONCE]


def _sent_before(company_id: int, reminders: int, moment: datetime) -> QuerySet[Invitation]:
    permitted = ConsentStanding.objects.filter(
        yes_now(), site=OuterRef("site"), owner=OuterRef("owner"), purpose=Purpose.CONTACT
    )
    mailed = InvitationLink.objects.filter(invitation=OuterRef("pk"), kind=InvitationLink.Kind.MAIL)
    return (
        Invitation.objects.filter(
            Exists(permitted),
            Exists(mailed),
            company=company_id,
            state__in=REMINDABLE,
            reminders=reminders,
            sent_at__lte=moment,
        )
        .select_related("company__policy", "site__company", "owner")
        .order_by("sent_at")[:AT_ONCE]
    )


def free_ready() -> int:
    """Invitations held for what no act of a person frees by itself are looked at again: open handover checks, and a
    permission that the ledger did not bear out.
    """
    by_itself = (HeldReason.NOT_READY, HeldReason.LEDGER_DIFFERS)
    waiting = Invitation.objects.filter(state=InvitationState.HELD, held_reason__in=by_itself).order_by("?")
    done = 0
    for invitation in waiting.select_related("site__company", "owner")[:AT_ONCE]:
        with transaction.atomic():
            lock_head(invitation.site.company)
            held.reconsider(site=invitation.site, owner=invitation.owner)
            invitation.refresh_from_db(fields=["state"])
            done += invitation.state == InvitationState.QUEUED
    return done


def forget_origins() -> int:
    """IP addresses and sessions of entries are kept 90 days; the ledger verifies without them. At most 200 at once."""
    old = ConsentDetail.objects.filter(entry__at__lt=timezone.now() - ORIGINS_KEPT).filter(
        Q(values__has_key="origin") | Q(values__has_key="session")
    )
    done = 0
    for detail in old[:AT_ONCE]:
        for field in ORIGINS:
            if detail.values.pop(field, None) is not None:
                detail.erased.append(field)
        detail.save(update_fields=["values", "erased"])
        done += 1
    return done
