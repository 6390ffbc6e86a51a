"""Editing a site, and saying how a pasted place is understood. Registering is onboarding's: the owner comes along."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from fleet.coordinates import BadPlace, read_place
from fleet.forms.plans import ReferencesForm
from fleet.forms.refused import show_refusal
from fleet.forms.sites import PLACE_PROBLEMS, SiteForm
from fleet.models import Member, Site
from fleet.operations.references import BadReference
from fleet.operations.refusals import ActRefused, NotThere
from fleet.operations.site_changes import save_site
from fleet.views.paths import site_or_404
from fleet.views.staff import staff_page


@require_POST
@staff_page
def read_pasted_place(request: HttpRequest, member: Member) -> HttpResponse:
    """Say how a pasted place is understood; nothing is written and nothing is opened."""
    text = request.POST.get("place", "").strip()
    context: dict[str, object] = {}
    if text:
        try:
            context["place"] = read_place(text)
        except BadPlace as refused:
            context["problem"] = PLACE_PROBLEMS[refused.reason]
    return render(request, "fleet/parts/place_read.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def change_site(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """Change a site's facts, unless somebody else saved it since the form was opened."""
    site = site_or_404(member, code)
    if request.method != "POST":
        form = SiteForm(instance=site, initial={"version": site.version})
        return _form_page(request, site, form, ReferencesForm(site=site), 200)
    form, numbers = SiteForm(request.POST, instance=Site(pk=site.pk)), ReferencesForm(request.POST)
    status = 422
    if form.is_valid() and numbers.is_valid():
        try:
            save_site(
                actor=member,
                site=site,
                facts=form.facts,
                version=form.cleaned_data["version"] or 0,
                references=numbers.references,
            )
        except NotThere as refusal:
            raise Http404 from refusal
        except BadReference as refusal:
            status = show_refusal(numbers, refusal)
        except ActRefused as refusal:
            status = show_refusal(form, refusal)
        else:
            messages.success(request, _("Saved."))
            return redirect("fleet:site", site.code)
    return _form_page(request, site_or_404(member, code), form, numbers, status)


def _form_page(request: HttpRequest, site: Site, form: SiteForm, numbers: ReferencesForm, status: int) -> HttpResponse:
    if status == 409:
        # The typed text stays; the next save counts from what is stored now, shown beside it.
        form.data = {**{name: form.data[name] for name in form.data}, "version": str(site.version)}
    context = {"form": form, "numbers": numbers, "site": site, "stale": status == 409}
    return render(request, "fleet/site_form.html", context, status=status)
