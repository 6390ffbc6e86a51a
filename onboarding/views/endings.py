"""Permissions that end, for the office: whom to ask, who was told, what ran out."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from fleet.models import Member
from fleet.views.staff import staff_page
from onboarding.models import Purpose
from onboarding.queries.consents import Permission
from onboarding.queries.endings import A_PAGE, ENDING_BY_NAME, ENDING_LISTS, ending


@require_safe
@staff_page
def endings(request: HttpRequest, member: Member) -> HttpResponse:
    """One of the lists, what ends first at the top."""
    show = ENDING_BY_NAME.get(request.GET.get("show", ""), ENDING_BY_NAME["ask"])
    page = _page(request.GET.get("page", ""))
    rows = list(ending(member, show.name)[page * A_PAGE : (page + 1) * A_PAGE + 1])
    here = f"{reverse('onboarding:endings')}?show={show.name}"
    context = {
        "show": show,
        "lists": [{"show": each, "number": ending(member, each.name).count()} for each in ENDING_LISTS],
        "rows": [(row, Permission(Purpose(row.purpose), row)) for row in rows[:A_PAGE]],
        "newer_url": f"{here}&page={page - 1}" if page else "",
        "older_url": f"{here}&page={page + 1}" if len(rows) > A_PAGE else "",
    }
    return render(request, "onboarding/staff/endings.html", context)


def _page(text: str) -> int:
    return min(int(text), 1000) if text.isascii() and text.isdigit() and len(text) < 6 else 0
