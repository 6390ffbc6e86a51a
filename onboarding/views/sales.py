"""Owners who told that they sold their house: the office's list."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from fleet.models import Member
from fleet.views.staff import staff_page
from onboarding.queries.sales import reported_sales

MOST = 200


@require_safe
@staff_page
def sales(request: HttpRequest, member: Member) -> HttpResponse:
    """Who waited longest first; each leads to the site's owners, where the office acts."""
    reports = reported_sales(member)
    context = {"reports": list(reports[:MOST]), "number": reports.count()}
    return render(request, "onboarding/staff/sales.html", context)
