"""Recording at a site what an owner said."""

from uuid import UUID

from django.contrib import messages
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from fleet.forms.refused import show_refusal
from fleet.models import Member, Site, StoredFile
from fleet.operations.files import store_file
from fleet.operations.refusals import ActRefused, NotThere
from fleet.views.staff import staff_page
from onboarding.forms.staff import ConsentForm
from onboarding.models import ConsentEntry, Owner
from onboarding.operations.consents import record_consent
from onboarding.queries.effects import effect_of
from onboarding.queries.wordings import current_wordings
from onboarding.views.site_owners import site_and_owner, site_part


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def record(request: HttpRequest, member: Member, code: str, owner_id: UUID) -> HttpResponse:
    """The form with the texts to read aloud, and what it records."""
    site, owner = site_and_owner(member, code, owner_id)
    form = ConsentForm(request.POST if request.method == "POST" else None, request.FILES or None)
    context = {"form": form, "site": site, "owner": owner, "wordings": current_wordings(site.company, owner.language)}
    if request.method != "POST":
        return render(request, "onboarding/staff/consent_form.html", context)
    if not form.is_valid():
        return render(request, "onboarding/staff/consent_form.html", context, status=422)
    try:
        entry = _record(member, site, owner, form)
    except NotThere as refusal:
        raise Http404 from refusal
    except ActRefused as refusal:
        return render(request, "onboarding/staff/consent_form.html", context, status=show_refusal(form, refusal))
    effect = effect_of(entry)
    (messages.success if effect.changed else messages.warning)(request, effect.sentence)
    return HttpResponseRedirect(site_part(site, "permissions"))


@transaction.atomic
def _record(member: Member, site: Site, owner: Owner, form: ConsentForm) -> ConsentEntry:
    given = form.cleaned_data
    return record_consent(
        actor=member,
        site=site,
        owner=owner,
        purpose=given["purpose"],
        state=given["state"],
        how=given["how"],
        reference=given["reference"],
        file=_kept(member, site, form) if given["file"] else None,
    )


def _kept(member: Member, site: Site, form: ConsentForm) -> StoredFile:
    file = form.cleaned_data["file"]
    return store_file(
        actor=member,
        site=site,
        name=file.name,
        content=file.read(),
        content_type=file.content_type or "",
        purpose="signature",
    )
