"""The makers' pages on which owners see what their devices measure: administrators say them."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from fleet.models import Member
from fleet.operations.measurement_pages import set_measurement_page
from fleet.operations.refusals import ActRefused, NotThere
from fleet.queries.catalogue import makers_of
from fleet.views.staff import administrators_page


@require_http_methods(["GET", "HEAD", "POST"])
@administrators_page
def measurement_pages(request: HttpRequest, member: Member) -> HttpResponse:
    """One line a maker, each with its own address; what was mistyped stays in its field."""
    mistaken: dict[str, str] = {}
    status = 200
    if request.method == "POST":
        name, url = request.POST.get("maker", ""), request.POST.get("url", "")
        try:
            maker = set_measurement_page(actor=member, maker=name, url=url)
        except NotThere as refusal:
            raise Http404 from refusal
        except ActRefused as refusal:
            status, mistaken = 422, {"maker": name, "url": url[:300], "sentence": str(refusal.sentence)}
        else:
            messages.success(request, _("Saved for %(maker)s.") % {"maker": maker.name})
            return redirect("fleet:measurement_pages")
    context = {"makers": list(makers_of(member)), "mistaken": mistaken}
    return render(request, "fleet/measurement_pages.html", context, status=status)
