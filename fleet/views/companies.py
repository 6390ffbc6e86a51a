"""Choosing the company to act for."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext as _
from django.views.decorators.http import require_POST

from fleet.acting import SESSION_KEY, active_memberships
from fleet.models import Member
from fleet.views.staff import staff_page


@require_POST
@staff_page
def act_for(request: HttpRequest, member: Member) -> HttpResponse:
    """Act for another of one's own memberships from now on; an unknown one changes nothing."""
    wanted = request.POST.get("membership", "")
    chosen = next((own for own in active_memberships(member.user) if str(own.public_id) == wanted), None)
    if chosen is None:
        messages.error(
            request,
            _("You do not work for that company, so nothing was changed. Choose one of those under your name."),
        )
    else:
        request.session[SESSION_KEY] = str(chosen.public_id)
        messages.success(request, _("You now work for %(company)s.") % {"company": chosen.company.name})
    return redirect("fleet:today")
