"""The first page: what is stuck and whose move it is."""

from uuid import UUID

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from fleet.models import Member
from fleet.queries.own_work import own_work
from fleet.queries.sites import has_no_sites
from fleet.queries.stuck_sites import PAGE, labels_waiting, problems_found
from fleet.queries.today import stuck_for
from fleet.views.staff import staff_page


@require_safe
def today(request: HttpRequest) -> HttpResponse:
    """What is stuck for a member; somebody who is no member goes to their own pages."""
    if not request.user.is_authenticated:
        return redirect_to_login(request.get_full_path())
    member = getattr(request, "member", None)
    if member is None:
        return redirect(settings.OWNERS_HOME)
    groups = stuck_for(member)
    own = own_work(member) if member.is_field else None
    return render(
        request,
        "fleet/today.html",
        {
            "is_field": member.is_field,
            "own": [own] if own and own.count else [],
            "ours": [group for group in groups if group.ours],
            "theirs": [group for group in groups if not group.ours],
            "nothing_yet": not groups and has_no_sites(member),
        },
    )


@require_safe
@staff_page
def waiting(request: HttpRequest, member: Member) -> HttpResponse:
    """Labels that a person must decide, the oldest first."""
    scans = labels_waiting(member).select_related("site", "member__user")
    after = scans.filter(client_id=after_id).first() if (after_id := _uuid(request.GET.get("after", ""))) else None
    rows = list((scans.filter(pk__gt=after.pk) if after else scans)[: PAGE + 1])
    further = f"?after={rows[PAGE - 1].client_id}" if len(rows) > PAGE else ""
    return render(request, "fleet/labels_waiting.html", {"scans": rows[:PAGE], "older_url": further})


@require_safe
@staff_page
def problems(request: HttpRequest, member: Member) -> HttpResponse:
    """Handover checks that found a problem, the oldest first."""
    checks = problems_found(member).select_related("site", "found_by__user")
    after = checks.filter(public_id=after_id).first() if (after_id := _uuid(request.GET.get("after", ""))) else None
    rows = list((checks.filter(pk__gt=after.pk) if after else checks)[: PAGE + 1])
    further = f"?after={rows[PAGE - 1].public_id}" if len(rows) > PAGE else ""
    return render(request, "fleet/problems.html", {"checks": rows[:PAGE], "older_url": further})


def _uuid(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None
