"""What of owners and invitations is stuck, and whose move it is."""

from collections.abc import Sequence
from datetime import timedelta

from django.db.models import Exists, OuterRef, QuerySet
from django.urls import reverse
from django.utils import timezone
from django.utils.timesince import timesince
from django.utils.translation import gettext as _

from fleet.models import Member
from fleet.queries.today import StuckGroup, StuckRow
from fleet.queries.visibility import visible_sites
from onboarding.models import Delivery, DeliveryState, Invitation, InvitationEvent, InvitationState

FEW = 5
ENDS_SOON = timedelta(days=30)


def visible_invitations(member: Member) -> QuerySet[Invitation]:
    """Invitations to owners of the sites that ``member`` may see, with site and owner."""
    return Invitation.objects.filter(company_id=member.company_id, site__in=visible_sites(member)).select_related(
        "site", "owner"
    )


def stuck(member: Member) -> list[StuckGroup]:
    """Groups for the *Today* page, each leading to the list that it counts."""
    seen = visible_invitations(member)
    groups = [
        _group(seen.filter(state=InvitationState.HELD), "held", _("Invitations held"), order=20),
        _group(
            seen.filter(state__in=[InvitationState.BOUNCED, InvitationState.FAILED]),
            "not_arrived",
            _("Invitations that did not arrive"),
            order=21,
        ),
        _group(seen.filter(_said_not_me()), "not_me", _("Said that the mail was not for them"), order=22),
        _group(seen.filter(state=InvitationState.EXPIRED), "expired", _("Invitations that ran out"), order=23),
        _group(
            seen.filter(state__in=[InvitationState.SENT, InvitationState.OPENED]),
            "waiting",
            _("Waiting for owners to accept"),
            order=60,
            whose=_("The owner"),
            ours=False,
        ),
    ]
    if member.is_administrator:
        groups.append(_group(seen.filter(_undecided()), "unknown", _("Not known whether it arrived"), order=24))
    return groups


def _said_not_me() -> Exists:
    return Exists(InvitationEvent.objects.filter(invitation=OuterRef("pk"), what="not_me"))


def _undecided() -> Exists:
    return Exists(Delivery.objects.filter(invitation=OuterRef("pk"), state=DeliveryState.UNKNOWN))


def _group(
    rows: QuerySet[Invitation], name: str, title: str, *, order: int, whose: str = "", ours: bool = True
) -> StuckGroup:
    return StuckGroup(
        title=title,
        whose_move=whose or _("The office"),
        count=rows.count(),
        url=f"{reverse('onboarding:invitations')}?show={name}",
        rows=_few(rows),
        ours=ours,
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
        for row in rows.order_by("id")[:FEW]
    ]
