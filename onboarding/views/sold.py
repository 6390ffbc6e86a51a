"""*I have sold this house*: the day is asked and confirmed, and can be taken back until the office acts."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from fleet.forms.refused import show_refusal
from fleet.operations.refusals import ActRefused
from onboarding.forms.owning import SoldForm
from onboarding.models import Ownership
from onboarding.operations.sales import report_sale, take_back_sale
from onboarding.views.owners import owners_page, owners_word


@require_http_methods(["GET", "HEAD", "POST"])
@owners_page
def sold(request: HttpRequest, ownership: Ownership) -> HttpResponse:
    """First the day, then what follows from it with the button that sends it."""
    form = SoldForm(request.POST if request.method == "POST" else None)
    site = ownership.site
    context = {"form": form, "site": site, "company": site.company}
    if request.method != "POST":
        return render(request, "onboarding/owner/sold.html", context)
    if not form.is_valid():
        return render(request, "onboarding/owner/sold.html", context, status=422)
    day = form.cleaned_data["sold_on"]
    if request.POST.get("act") != "send":
        return render(request, "onboarding/owner/sold.html", context | {"day": day})
    try:
        report_sale(word=owners_word(request), owner=ownership.owner, site=site, sold_on=day)
    except ActRefused as refusal:
        return render(request, "onboarding/owner/sold.html", context, status=show_refusal(form, refusal))
    messages.success(request, _("%(company)s has been told.") % {"company": site.company.name})
    return _back(ownership)


@require_POST
@owners_page
def take_back(request: HttpRequest, ownership: Ownership) -> HttpResponse:
    """The house is not sold after all."""
    try:
        take_back_sale(word=owners_word(request), owner=ownership.owner, site=ownership.site)
    except ActRefused as refusal:
        messages.error(request, str(refusal.sentence))
    else:
        messages.success(request, _("Taken back. Everything stays as it was."))
    return _back(ownership)


def _back(ownership: Ownership) -> HttpResponse:
    return HttpResponseRedirect(reverse("onboarding:my_site", args=[ownership.site.code]) + "#sold")
