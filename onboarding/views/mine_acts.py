"""What owners do on their own pages: answer, withdraw, correct themselves, name a second owner."""

from collections.abc import Callable

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from fleet.forms.refused import show_refusal
from fleet.operations.refusals import ActRefused, NotThere
from onboarding.forms.owning import OwnFactsForm, SecondOwnerForm
from onboarding.limits import within
from onboarding.models import Ownership, Purpose
from onboarding.operations.consents import confirm_consents, withdraw_consent
from onboarding.operations.owners_own import edit_own_facts, name_second_owner
from onboarding.views.owners import owners_page, owners_word

NAMED_A_DAY = 5
DAY = 86_400


@require_POST
@owners_page
def answer(request: HttpRequest, ownership: Ownership) -> HttpResponse:
    """Allow, refuse or withdraw one purpose: one button each."""
    purpose, said = request.POST.get("purpose", ""), request.POST.get("answer", "")
    if purpose not in Purpose.values or said not in ("allow", "refuse", "withdraw"):
        raise Http404
    word, owner, site = owners_word(request), ownership.owner, ownership.site
    acts: dict[str, Callable[[], object]] = {
        "allow": lambda: confirm_consents(word=word, owner=owner, site=site, choices={purpose: True}),
        "refuse": lambda: confirm_consents(word=word, owner=owner, site=site, choices={purpose: False}),
        "withdraw": lambda: withdraw_consent(word=word, owner=owner, site=site, purpose=purpose),
    }
    done = {
        "allow": _("Recorded: you allow this. A receipt is below."),
        "refuse": _("Recorded: you do not allow this. A receipt is below."),
        "withdraw": _("Recorded: you withdrew this. It is no longer allowed; a receipt is below."),
    }
    try:
        acts[said]()
    except NotThere as refusal:
        raise Http404 from refusal
    except ActRefused as refusal:
        messages.error(request, str(refusal.sentence))
    else:
        messages.success(request, done[said])
    return HttpResponseRedirect(reverse("onboarding:my_site", args=[site.code]) + "#permissions")


@require_http_methods(["GET", "HEAD", "POST"])
@owners_page
def about_me(request: HttpRequest, ownership: Ownership) -> HttpResponse:
    """The owner's own telephone, postal address and language."""
    owner = ownership.owner
    form = OwnFactsForm(
        request.POST if request.method == "POST" else None,
        initial={"phone": owner.phone, "postal_address": owner.postal_address, "language": owner.language},
    )
    context = {"form": form, "site": ownership.site, "owner": owner}
    if request.method != "POST":
        return render(request, "onboarding/owner/about_me.html", context)
    if not form.is_valid():
        return render(request, "onboarding/owner/about_me.html", context, status=422)
    try:
        edit_own_facts(word=owners_word(request), owner=owner, **form.cleaned_data)
    except ActRefused as refusal:
        return render(request, "onboarding/owner/about_me.html", context, status=show_refusal(form, refusal))
    messages.success(request, _("Your details are saved."))
    return HttpResponseRedirect(reverse("onboarding:my_site", args=[ownership.site.code]))


@require_http_methods(["GET", "HEAD", "POST"])
@owners_page
def second_owner(request: HttpRequest, ownership: Ownership) -> HttpResponse:
    """Name another owner of the same site, who is invited."""
    form = SecondOwnerForm(
        request.POST if request.method == "POST" else None, initial={"language": ownership.owner.language}
    )
    context = {"form": form, "site": ownership.site}
    if request.method != "POST":
        return render(request, "onboarding/owner/second_owner.html", context)
    if not form.is_valid():
        return render(request, "onboarding/owner/second_owner.html", context, status=422)
    if not within("second-owner", str(ownership.owner.public_id), most=NAMED_A_DAY, seconds=DAY):
        form.add_error(None, _("You named several people today already. Nothing was sent; try again tomorrow."))
        return render(request, "onboarding/owner/second_owner.html", context, status=429)
    try:
        name_second_owner(
            word=owners_word(request),
            owner=ownership.owner,
            site=ownership.site,
            name=form.cleaned_data["name"],
            email=form.cleaned_data["email"],
            language=form.cleaned_data["language"],
        )
    except ActRefused as refusal:
        return render(request, "onboarding/owner/second_owner.html", context, status=show_refusal(form, refusal))
    messages.success(request, _("They are invited. They see the site and answer for themselves once they accept."))
    return HttpResponseRedirect(reverse("onboarding:my_site", args=[ownership.site.code]))
