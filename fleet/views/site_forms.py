"""Registering and editing a site."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from fleet.forms.plans import ReferencesForm
from fleet.forms.refused import show_refusal
from fleet.forms.sites import SiteForm
from fleet.models import Member, Site
from fleet.operations.references import BadReference
from fleet.operations.refusals import ActRefused, NotThere
from fleet.operations.site_changes import save_site
from fleet.operations.sites import register_site
from fleet.views.paths import site_or_404
from fleet.views.staff import staff_page


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def new_site(request: HttpRequest, member: Member) -> HttpResponse:
    """Register a site and go to its page."""
    form = SiteForm(request.POST or None, initial={"country": member.company.country})
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                site = register_site(actor=member, facts=form.facts)
            except ActRefused as refusal:
                status = show_refusal(form, refusal)
            else:
                messages.success(
                    request,
                    _("Registered as %(code)s. Next: scan the labels of what stands there.")
                    % {"code": site.written_code},
                )
                return redirect("fleet:site", site.code)
    return render(request, "fleet/site_form.html", {"form": form}, status=status)


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
