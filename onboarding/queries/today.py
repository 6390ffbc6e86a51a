"""What of owners and invitations is stuck, and whose move it is."""

from collections.abc import Sequence

from django.db.models import QuerySet
from django.db.models.functions import Coalesce
from django.urls import reverse
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.timesince import timesince
from django.utils.translation import gettext as _

from fleet.models import Member
from fleet.queries.today import StuckGroup, StuckRow
from onboarding.models import Invitation
from onboarding.queries.endings import ENDING_LISTS, EndingList, ending
from onboarding.queries.invitation_list import BY_NAME, shown
from onboarding.queries.ready import never_invited
from onboarding.queries.sales import reported_sales

FEW = 3


def stuck(member: Member) -> list[StuckGroup]:
    """Groups for the *Today* page, each leading to the list that it counts."""
    groups = [
        _sales(member),
        _ready(member),
        _group(member, "held", order=20),
        _group(member, "not_arrived", order=21),
        _group(member, "not_me", order=22),
        _group(member, "expired", order=23),
        _group(member, "waiting", order=60, whose=_("The owner"), ours=False),
    ]
    groups += [_endings(member, each, order) for each, order in zip(ENDING_LISTS, (25, 61, 26), strict=True)]
    if member.is_administrator:
        groups.append(_group(member, "unknown", order=24))
    return groups


def _ready(member: Member) -> StuckGroup:
    rows = never_invited(member)
    return StuckGroup(
        title=_("Ready to invite"),
        whose_move=_("The office"),
        count=rows.count(),
        url=reverse("onboarding:ready"),
        rows=[
            StuckRow(
                title=f"{row.owner.name} · {row.site.written_code}",
                url=f"{reverse('fleet:site', args=[row.site.code])}#owners",
                about=row.site.address_line,
            )
            for row in rows[:FEW]
        ],
        order=42,
    )


def _group(member: Member, name: str, *, order: int, whose: str = "", ours: bool = True) -> StuckGroup:
    rows = shown(member, BY_NAME[name])
    return StuckGroup(
        title=_("Invitations: %(what)s") % {"what": BY_NAME[name].title},
        whose_move=whose or _("The office"),
        count=rows.count(),
        url=f"{reverse('onboarding:invitations')}?show={name}",
        rows=_few(rows),
        ours=ours,
        order=order,
    )


def _sales(member: Member) -> StuckGroup:
    reports = reported_sales(member)
    now = timezone.now()
    return StuckGroup(
        title=_("Owners who say that the house is sold"),
        whose_move=_("The office"),
        count=reports.count(),
        url=reverse("onboarding:sales"),
        rows=[
            StuckRow(
                title=f"{report.ownership.owner.name} · {report.ownership.site.written_code}",
                url=f"{reverse('fleet:site', args=[report.ownership.site.code])}#owners",
                about=_("as of %(day)s") % {"day": date_format(report.sold_on, "DATE_FORMAT")},
                since=timesince(report.told_at, now),
            )
            for report in reports[:FEW]
        ],
        order=19,
    )


def _endings(member: Member, each: EndingList, order: int) -> StuckGroup:
    rows = ending(member, each.name)
    return StuckGroup(
        title=each.title,
        whose_move=each.whose_move,
        count=rows.count(),
        url=f"{reverse('onboarding:endings')}?show={each.name}",
        rows=[
            StuckRow(
                title=f"{row.owner.name} · {row.site.written_code}",
                url=f"{reverse('fleet:site', args=[row.site.code])}#permissions",
                about=row.get_purpose_display(),
            )
            for row in rows[:FEW]
        ],
        ours=each.ours,
        order=order,
    )


def _few(rows: QuerySet[Invitation]) -> Sequence[StuckRow]:
    now = timezone.now()
    return [
        StuckRow(
            title=f"{row.owner.name} · {row.site.written_code}",
            url=reverse("onboarding:invitation", args=[row.public_id]),
            about=row.get_held_reason_display() or row.get_state_display(),
            since=timesince(row.ended_at or row.sent_at or row.created_at, now),
        )
        for row in rows.order_by(Coalesce("ended_at", "sent_at", "created_at"), "id")[:FEW]
    ]
