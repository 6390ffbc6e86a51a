"""The answers under the search box, as the person types."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.models import Member
from fleet.search import find_sites
from fleet.views.sites import LONGEST_TEXT
from fleet.views.staff import staff_page

FEW = 8


@require_safe
@never_cache
@staff_page
def search(request: HttpRequest, member: Member) -> HttpResponse:
    """The first few sites that ``q`` means, as options of the search box."""
    text = request.GET.get("q", "")[:LONGEST_TEXT].strip()
    results = find_sites(member=member, text=text, limit=FEW) if text else None
    return render(request, "fleet/parts/answers.html", {"text": text, "results": results})
