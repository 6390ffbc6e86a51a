"""My site: what is on the roof, what I allowed, the receipts of it, and what is kept about me."""

from typing import cast
from uuid import UUID

from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import translation
from django.views.decorators.http import require_safe

from fleet.acting import active_memberships
from fleet.emergency import emergency_number
from fleet.models import User
from fleet.spoken import spoken
from onboarding.ledger.receipts import receipt
from onboarding.models import ConsentEntry, Ownership
from onboarding.queries.mine import (
    alike,
    asked_of,
    measured_at,
    my_entries,
    other_owners,
    ownerships_of,
    past_ownerships_of,
    standing_there,
    told,
)
from onboarding.queries.own_data import own_data
from onboarding.queries.sales import report_of
from onboarding.views.owners import present_or_former

MOST_ENTRIES = 200


@require_safe
def mine(request: HttpRequest) -> HttpResponse:
    """The person's own sites, those that they owned too; with one only, straight to it. Staff who own none get 404."""
    if not request.user.is_authenticated:
        return redirect_to_login(request.get_full_path())
    user = request.user
    owned, before = list(ownerships_of(user)), list(past_ownerships_of(user))
    if len(owned) + len(before) == 1:
        return HttpResponseRedirect(reverse("onboarding:my_site", args=[(owned + before)[0].site.code]))
    if not owned and not before and active_memberships(user):
        raise Http404
    language = owned[0].owner.language if owned else user.language
    with translation.override(spoken(language)):
        return render(request, "onboarding/owner/sites.html", {"owned": owned, "before": before})


@require_safe
@present_or_former
def my_site(request: HttpRequest, ownership: Ownership) -> HttpResponse:
    """One site of the owner on one screen; of a former owner what they answered, and nothing of the house."""
    if ownership.until is not None:
        return _owned_before(request, ownership)
    site, owner = ownership.site, ownership.owner
    placements = standing_there(site)
    context = {
        "site": site,
        "owner": owner,
        "company": site.company,
        "number": emergency_number(site.company.country),
        "placements": placements,
        "alike": alike(placements),
        "makers": measured_at(placements),
        "asked": asked_of(site, owner),
        "others": other_owners(site, owner),
        "sale": report_of(ownership),
    }
    return render(request, "onboarding/owner/my_site.html", context)


def _owned_before(request: HttpRequest, ownership: Ownership) -> HttpResponse:
    site, owner = ownership.site, ownership.owner
    context = {
        "site": site,
        "company": site.company,
        "until": ownership.until,
        "entries": list(my_entries(site, owner)[:MOST_ENTRIES]),
        "elsewhere": ownerships_of(cast(User, request.user)).exists(),
    }
    return render(request, "onboarding/owner/former.html", context)


@require_safe
@present_or_former
def receipts(request: HttpRequest, ownership: Ownership) -> HttpResponse:
    """Every answer that was recorded, newest first."""
    entries = list(my_entries(ownership.site, ownership.owner)[:MOST_ENTRIES])
    return render(
        request, "onboarding/owner/receipts.html", {"site": ownership.site, "entries": entries, "most": MOST_ENTRIES}
    )


@require_safe
@present_or_former
def one_receipt(request: HttpRequest, ownership: Ownership, entry_id: UUID) -> HttpResponse:
    """One receipt as a page to read or print."""
    entry = _entry(ownership, entry_id)
    return render(
        request, "onboarding/owner/receipt.html", {"site": ownership.site, "entry": entry, "told": told(entry)}
    )


@require_safe
@present_or_former
def receipt_file(request: HttpRequest, ownership: Ownership, entry_id: UUID) -> HttpResponse:
    """One receipt as JSON."""
    document = receipt(told(_entry(ownership, entry_id)))
    return _download(document, f"receipt-{entry_id}.json")


@require_safe
@present_or_former
def my_data(request: HttpRequest, ownership: Ownership) -> HttpResponse:
    """Everything kept about the owner by this company, as JSON."""
    return _download(own_data(ownership.owner), f"my-data-{ownership.site.written_code}.json")


def _entry(ownership: Ownership, entry_id: UUID) -> ConsentEntry:
    entry = my_entries(ownership.site, ownership.owner).filter(entry_id=entry_id).first()
    if entry is None:
        raise Http404
    return entry


def _download(document: dict[str, object], name: str) -> HttpResponse:
    response = JsonResponse(document, json_dumps_params={"ensure_ascii": False, "indent": 2})
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response
