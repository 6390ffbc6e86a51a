"""Where the plate on a wall leads: the owner to their site, staff to the site's page, anybody to what to do."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.acting import client_address
from fleet.emergency import emergency_number
from fleet.models import Company, User
from fleet.queries.plates import scanned_plate
from fleet.queries.sites import site_by_code
from onboarding.limits import within
from onboarding.queries.mine import owned_by_plate

SCANS = 60
SCANS_WITHIN = 600


@require_safe
@never_cache
def plate_link(request: HttpRequest, code: str) -> HttpResponse:
    """Lead people to what they may see; answer all others alike, whatever the code is.

    Only the company of a plate that was printed is named, and nothing of a site. An address that asks too often is
    told what to do in an emergency and nothing else.
    """
    if not within("plate", client_address(request), most=SCANS, seconds=SCANS_WITHIN):
        response = _public(request, None, status=429)
        response.headers["Retry-After"] = str(SCANS_WITHIN)
        return response
    if request.user.is_authenticated and (place := _theirs(request, request.user, code)):
        return redirect(*place)
    plate = scanned_plate(code)
    return _public(request, plate.company if plate else None)


def _theirs(request: HttpRequest, user: User, code: str) -> tuple[str, str] | None:
    """The page of the site that the signed-in person owns or works on, as a URL's name and the site's code."""
    member = getattr(request, "member", None)
    site = site_by_code(member, code) if member else None
    if site is not None:
        return "fleet:site", site.code
    owned = owned_by_plate(user, code)
    return ("onboarding:my_site", owned.site.code) if owned else None


def _public(request: HttpRequest, company: Company | None, status: int = 200) -> HttpResponse:
    context = {"looks_after": company, "number": emergency_number(company.country if company else "")}
    response = render(request, "onboarding/plate/anybody.html", context, status=status)
    response.headers["X-Robots-Tag"] = "noindex, nofollow"
    return response
