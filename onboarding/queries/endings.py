"""Permissions that end: soon by the clock, by a newer text, or lately ended; and whether their owner was told."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Member
from fleet.queries.visibility import visible_sites
from onboarding.ledger.standing import GRANTING, LASTS_LONG, WARN_BEFORE, WARN_SHORT_BEFORE
from onboarding.models import ConsentStanding, ConsentState, DeliveryState, EndNotice, Ownership, Wording
from onboarding.queries.consents import superseded_wordings, with_older_text

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise

SHOWN_AFTERWARDS = timedelta(days=30)
A_PAGE = 50
TELLING = (
    DeliveryState.QUEUED,
    DeliveryState.CLAIMED,
    DeliveryState.TRANSMITTING,
    DeliveryState.SENT,
    DeliveryState.UNKNOWN,
)


@dataclass(frozen=True)
class EndingList:
    """One list of permissions: its name in the address, its words, and whose move it is."""

    name: str
    title: "StrOrPromise"
    whose_move: "StrOrPromise"
    ours: bool


ENDING_LISTS = (
    EndingList("ask", _("Permissions that end: ask the owner"), _("The office"), True),
    EndingList("told", _("Permissions that end: the owner was told"), _("The owner"), False),
    EndingList("ended", _("Permissions that ran out lately"), _("The office"), True),
)
ENDING_BY_NAME = {each.name: each for each in ENDING_LISTS}


def runs_out_soon(now: datetime) -> Q:
    """A yes whose end people are told of by now: ``warned_from`` of the ledger, as a condition."""
    long = Q(ends_at__lte=now + WARN_BEFORE, at__lte=F("ends_at") - LASTS_LONG)
    return Q(state__in=GRANTING) & (long | Q(ends_at__lte=now + WARN_SHORT_BEFORE))


def under_older_text() -> Q:
    """The owner's own yes to a text that has a newer version in the same language."""
    return Q(state__in=GRANTING, strong=True, entry__wording__in=superseded_wordings())


def standing_with_owners() -> QuerySet[ConsentStanding]:
    """The standings of owners who own the site now, at sites in service."""
    owned = Ownership.objects.filter(site=OuterRef("site"), owner=OuterRef("owner"), until__isnull=True)
    return ConsentStanding.objects.filter(Exists(owned), site__retired_at__isnull=True)


def owners_answered(wording: Wording) -> int:
    """How many owners' own yes stands for ``wording``: whom a newer version would concern."""
    rows = standing_with_owners().filter(state__in=GRANTING, strong=True, entry__wording=wording)
    return rows.values("owner").distinct().count()


def ending(member: Member, name: str) -> QuerySet[ConsentStanding]:
    """One of the lists for ``member``, what ends first at the top, as ``standings`` hands them out."""
    now = timezone.now()
    rows = standing_with_owners().filter(company_id=member.company_id, site__in=visible_sites(member))
    if name == "ended":
        rows = rows.filter(state=ConsentState.EXPIRED, at__gte=now - SHOWN_AFTERWARDS)
    else:
        rows = rows.filter(runs_out_soon(now) | under_older_text()).filter(_told() if name == "told" else _untold())
    return with_older_text(rows).select_related("site", "owner", "entry__wording").order_by("ends_at", "id")


def _told() -> Q:
    """Whether every notice about the answer is a mail that went or may still go."""
    live = EndNotice.objects.filter(entry=OuterRef("entry"), delivery__state__in=TELLING)
    return Q(Exists(live)) & ~_untold()


def _untold() -> Q:
    """Whether a notice about the answer reached nobody: there was no mail, or it did not arrive."""
    notices = EndNotice.objects.filter(entry=OuterRef("entry"))
    return Q(Exists(notices.exclude(delivery__state__in=TELLING)))
