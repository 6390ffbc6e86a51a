"""What field staff themselves have to do: the sites assigned to them that are not handed over."""

from django.db.models import F
from django.urls import reverse
from django.utils import timezone
from django.utils.timesince import timesince
from django.utils.translation import gettext as _

from fleet.models import Assignment, Member, Stage
from fleet.queries.today import StuckGroup, StuckRow
from fleet.queries.visibility import running_assignments

SHOWN = 10
OPEN_STAGES = (Stage.PLANNED, Stage.INSTALLED)


def own_work(member: Member) -> StuckGroup:
    """The member's own sites: those that are theirs until a day first, then the longest in their stage."""
    assigned = Assignment.objects.filter(running_assignments(), member=member, site__summary__stage__in=OPEN_STAGES)
    in_order = assigned.select_related("site__summary").order_by(
        F("until").asc(nulls_last=True), "site__summary__stage_since", "site_id"
    )
    stages = "".join(f"&stage={stage}" for stage in OPEN_STAGES)
    return StuckGroup(
        title=_("Assigned to you, not handed over"),
        whose_move=_("You"),
        count=assigned.count(),
        url=f"{reverse('fleet:sites')}?assigned={member.public_id}{stages}",
        rows=[_row(each) for each in in_order[:SHOWN]],
    )


def _row(assignment: Assignment) -> StuckRow:
    site = assignment.site
    return StuckRow(
        title=site.address_line,
        url=reverse("fleet:site", args=[site.code]),
        about=f"{site.written_code} · {site.get_stage_display()}",
        since=timesince(site.summary.stage_since, timezone.now()),
    )
