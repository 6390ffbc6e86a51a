"""The first page: what is stuck and whose move it is."""

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from fleet.queries.today import stuck_for


@require_safe
def today(request: HttpRequest) -> HttpResponse:
    """What is stuck for a member; somebody who is no member goes to their own pages."""
    if not request.user.is_authenticated:
        return redirect_to_login(request.get_full_path())
    member = getattr(request, "member", None)
    if member is None:
        return redirect(settings.OWNERS_HOME)
    groups = stuck_for(member)
    return render(
        request,
        "fleet/today.html",
        {"ours": [group for group in groups if group.ours], "theirs": [group for group in groups if not group.ours]},
    )
