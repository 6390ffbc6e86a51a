"""The answers under the search box, as the person types."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.models import Member
from fleet.views.staff import staff_page


@require_safe
@never_cache
@staff_page
def search(request: HttpRequest, member: Member) -> HttpResponse:
    """The first few sites that match ``q``, as options of the search box."""
    return render(request, "fleet/parts/answers.html", {"text": request.GET.get("q", "").strip()[:200], "hits": []})
