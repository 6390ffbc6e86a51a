"""One click out of a company's mail (RFC 8058): a POST without cookies, answered without a redirect.

A GET changes nothing, because mail scanners open links; its page holds the same POST as a button.
"""

from django.conf import settings
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.utils import translation
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from fleet.spoken import spoken
from onboarding.mail.return_path import read_opaque
from onboarding.models import Delivery
from onboarding.operations.optouts import opt_out
from onboarding.views.quiet import in_language

ONE_CLICK = ("List-Unsubscribe", "One-Click")


@csrf_exempt
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def leave(request: HttpRequest, opaque: str) -> HttpResponseBase:
    """Show the button; on a POST as RFC 8058 section 3.1 writes it, take the address off."""
    delivery = _delivery(opaque)
    name, value = ONE_CLICK
    left = request.method == "POST" and request.POST.get(name) == value
    if left:
        opt_out(delivery=delivery)
    elif request.method == "POST":
        return HttpResponse(status=400, headers={"Content-Type": "text/plain; charset=utf-8"})
    with translation.override(spoken(delivery.language)):
        page = in_language(render(request, "onboarding/leave.html", {"company": delivery.company, "left": left}))
    page["Referrer-Policy"] = "no-referrer"
    return page


def _delivery(opaque: str) -> Delivery:
    named = read_opaque(opaque, settings.SECRET_KEY)
    if named is None:
        raise Http404
    found = Delivery.objects.select_related("company", "owner").filter(public_id=named, company__isnull=False).first()
    if found is None:
        raise Http404
    return found
