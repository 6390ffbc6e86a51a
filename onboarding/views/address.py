"""A person's own address: asking for another, confirming it, stopping what somebody else asked for.

These pages stand in place of allauth's, which let an address that nobody confirmed sign in.
"""

from allauth.account.decorators import reauthentication_required
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from fleet.forms.refused import show_refusal
from fleet.models import User
from fleet.operations.addresses import is_confirmed
from fleet.operations.refusals import ActRefused
from onboarding.forms.address import AddressForm
from onboarding.limits import within
from onboarding.operations.address_change import (
    AddressInUse,
    AddressLinkOver,
    ask_address_change,
    ask_confirmation,
    call_off_change,
    change_to_confirm,
    change_to_stop,
    confirm_address_change,
    pending_change,
    stop_address_change,
)
from onboarding.views.quiet import blocked, guessing, secret_page

ASKED_A_DAY = 10
DAY = 86_400


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def address(request: HttpRequest) -> HttpResponse:
    """The address that signs in, the one that waits to be confirmed, and a form for another."""
    user = request.user
    if not isinstance(user, User):
        return HttpResponseRedirect(reverse("account_login"))
    if request.method != "POST":
        return _page(request, user, AddressForm())
    act = request.POST.get("act")
    if act == "call_off":
        call_off_change(user=user)
        messages.success(request, _("The new address is forgotten. Nothing else was changed."))
        return HttpResponseRedirect(reverse("onboarding:address"))
    answer: HttpResponse = _ask(request, user, act == "confirm")
    return answer


@reauthentication_required  # type: ignore[untyped-decorator]  # allauth ships no types
def _ask(request: HttpRequest, user: User, present: bool) -> HttpResponse:
    """Ask for another address, or for a mail to the present one; the password or second factor was given just now."""
    form = AddressForm(request.POST)
    if not present and not form.is_valid():
        return _page(request, user, form, 422)
    if not within("address", str(user.pk), most=ASKED_A_DAY, seconds=DAY):
        form.add_error(None, _("You asked several times today already. Nothing was sent; try again tomorrow."))
        return _page(request, user, form, 429)
    try:
        if present:
            ask_confirmation(user=user)
        else:
            ask_address_change(user=user, address=form.cleaned_data["address"])
    except ActRefused as refusal:
        return _page(request, user, form, show_refusal(form, refusal))
    messages.success(request, _("A mail with a link is on its way. Until that link is used, nothing changes."))
    return HttpResponseRedirect(reverse("onboarding:address"))


@require_http_methods(["GET", "HEAD", "POST"])
@secret_page
def confirm_address(request: HttpRequest, token: str) -> HttpResponse:
    """The link in the mail to the new address. Opening it changes nothing."""
    try:
        change = change_to_confirm(token)
        if request.method != "POST":
            return render(request, "onboarding/account/confirm_address.html", {"change": change})
        user = confirm_address_change(token=token)
    except (AddressLinkOver, AddressInUse) as refusal:
        return _over(request, refusal)
    return render(request, "onboarding/account/address_confirmed.html", {"address": user.email})


@require_http_methods(["GET", "HEAD", "POST"])
@secret_page
def stop_address(request: HttpRequest, token: str) -> HttpResponse:
    """The link in the mail to the address before. Opening it changes nothing."""
    try:
        change = change_to_stop(token)
        if request.method != "POST":
            return render(request, "onboarding/account/stop_address.html", {"change": change})
        user = stop_address_change(token=token)
    except (AddressLinkOver, AddressInUse) as refusal:
        return _over(request, refusal)
    return render(request, "onboarding/account/address_stopped.html", {"address": user.email})


def _page(request: HttpRequest, user: User, form: AddressForm, status: int = 200) -> HttpResponse:
    context = {"form": form, "pending": pending_change(user), "confirmed": is_confirmed(user)}
    return render(request, "onboarding/account/address.html", context, status=status)


def _over(request: HttpRequest, refusal: ActRefused) -> HttpResponse:
    if isinstance(refusal, AddressLinkOver) and guessing(request):
        return blocked(request)
    status = 404 if isinstance(refusal, AddressLinkOver) else 409
    return render(request, "fleet/join_over.html", {"sentence": refusal.sentence}, status=status)
