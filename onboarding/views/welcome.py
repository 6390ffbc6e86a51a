"""The owner's way in: the page behind the link of the invitation. Reading it changes nothing; every act is a POST."""

import hashlib

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils import translation
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as _lazy
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from fleet.acting import client_address
from fleet.forms.refused import show_refusal
from fleet.models import User
from fleet.operations.refusals import ActRefused
from fleet.spoken import spoken
from fleet.views.entering import enter, entered
from onboarding.forms.accepting import AcceptForm
from onboarding.limits import steadily, within
from onboarding.models import Invitation
from onboarding.operations.acceptance import (
    NO_MAIL_DOMAIN,
    Acceptance,
    WrongAccount,
    accept_invitation,
    account_for,
    decline_as_stranger,
    masked,
    open_invitation,
    renew,
)
from onboarding.operations.invitation_links import (
    LinkEnded,
    LinkExpired,
    LinkReplaced,
    LinkUnknown,
    LinkUsed,
    good_link,
)
from onboarding.queries.mine import asked_of, reported_on
from onboarding.views.quiet import blocked, guessing, in_language, secret_page

OPENED = "welcome"
TRIES_PER_LINK = 20
RENEWALS_PER_CLIENT = 10
HOUR = 3600
HEADINGS: dict[type[ActRefused], Promise] = {
    LinkUnknown: _lazy("This link leads nowhere"),
    LinkReplaced: _lazy("There is a newer link"),
    LinkExpired: _lazy("This invitation has run out"),
    LinkUsed: _lazy("You have accepted already"),
    LinkEnded: _lazy("This invitation was called off"),
}
CLOSED = tuple(HEADINGS)


@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
@secret_page
def welcome(request: HttpRequest, token: str) -> HttpResponse:
    """Who invites, which roof, what is asked; then the answers and the password."""
    if request.method == "POST" and request.POST.get("act") == "renew":
        return _renewed(request, token)
    try:
        invitation = good_link(token).invitation
    except CLOSED as refusal:
        return _closed(request, refusal, token)
    with translation.override(spoken(invitation.owner.language)):
        if request.method != "POST":
            return in_language(_page(request, invitation, token))
        return in_language(_act(request, invitation, token))


def _act(request: HttpRequest, invitation: Invitation, token: str) -> HttpResponse:
    act = request.POST.get("act")
    try:
        if act == "continue":
            open_invitation(token=token)
            request.session[OPENED] = str(invitation.public_id)
            return HttpResponseRedirect(reverse("onboarding:welcome", args=[token]))
        if act == "not_me":
            decline_as_stranger(token=token)
            return render(request, "onboarding/owner/not_me.html", {"company": invitation.company})
        return _accept(request, invitation, token)
    except CLOSED as refusal:
        return _closed(request, refusal, token)


def _accept(request: HttpRequest, invitation: Invitation, token: str) -> HttpResponse:
    if not within("accept", str(invitation.public_id), most=TRIES_PER_LINK, seconds=HOUR):
        return blocked(request)
    user = _user(request)
    form = _form(invitation, user, request)
    if not form.is_valid():
        return _page(request, invitation, token, form, status=422)
    try:
        acceptance = accept_invitation(
            token=token,
            choices=form.choices,
            password=form.cleaned_data.get("password"),
            email=form.cleaned_data.get("email", ""),
            signed_in=user,
            session=_session_name(request),
        )
    except CLOSED:
        raise
    except WrongAccount:
        return _page(request, invitation, token, status=409)
    except ActRefused as refusal:
        return _page(request, invitation, token, form, status=show_refusal(form, refusal))
    return _in(request, acceptance)


def _in(request: HttpRequest, acceptance: Acceptance) -> HttpResponse:
    request.session.pop(OPENED, None)
    enter(request, acceptance.user)
    messages.success(request, _("Your site is open to you. What you allowed can be changed here at any time."))
    if acceptance.user.email.endswith(f"@{NO_MAIL_DOMAIN}"):
        told = _(
            "You sign in with the name %(name)s. Write it down; an address that you confirm by mail takes its place."
        )
        messages.info(request, told % {"name": acceptance.user.email})
    response = HttpResponseRedirect(reverse("onboarding:my_site", args=[acceptance.site.code]))
    entered(request, response)
    return response


def _page(
    request: HttpRequest, invitation: Invitation, token: str, form: AcceptForm | None = None, status: int = 200
) -> HttpResponse:
    user, owner, site = _user(request), invitation.owner, invitation.site
    context = {"invitation": invitation, "company": invitation.company, "site": site, "token": token}
    if request.session.get(OPENED) != str(invitation.public_id) and form is None:
        return render(request, "onboarding/owner/welcome.html", context, status=status)
    existing = account_for(invitation)
    if user is None and existing is not None:
        return render(request, "onboarding/owner/sign_in_first.html", context, status=status)
    if user is not None and user != existing and (existing is not None or owner.email):
        context["address"] = masked(owner.email or (existing.email if existing else ""))
        return render(request, "onboarding/owner/wrong_account.html", context, status=409)
    form = form or _form(invitation, user)
    reported = reported_on(site, owner)
    context |= {
        "form": form,
        "asked": [
            {
                "asked": each,
                "question": str(each.question) % {"company": invitation.company.name},
                "field": form[each.permission.purpose],
                "reported": reported.get(each.permission.purpose),
            }
            for each in asked_of(site, owner)
        ],
        "context_words": " ".join([invitation.company.name, site.street, site.town]),
        "signed_in": user,
    }
    return render(request, "onboarding/owner/accept.html", context, status=status)


def _form(invitation: Invitation, user: User | None, request: HttpRequest | None = None) -> AcceptForm:
    return AcceptForm(
        request.POST if request else None,
        needs_password=user is None,
        needs_email=user is None and not invitation.owner.email,
    )


def _closed(request: HttpRequest, refusal: ActRefused, token: str) -> HttpResponse:
    unknown = isinstance(refusal, LinkUnknown)
    if unknown and guessing(request):
        return blocked(request)
    context = {
        "heading": HEADINGS[type(refusal)],
        "sentence": refusal.sentence,
        "renewable": not isinstance(refusal, LinkUsed | LinkEnded),
        "used": isinstance(refusal, LinkUsed),
    }
    with translation.override(spoken(refusal.facts.get("language") or "")):
        return in_language(render(request, "onboarding/owner/over.html", context, status=404 if unknown else 410))


def _renewed(request: HttpRequest, token: str) -> HttpResponse:
    """The same answer, after the same time, for known and unknown links, and for those who ask too often."""
    if within("renew", client_address(request), most=RENEWALS_PER_CLIENT, seconds=HOUR):
        with steadily():
            renew(token=token)
    return render(request, "onboarding/owner/renewed.html")


def _user(request: HttpRequest) -> User | None:
    return request.user if request.user.is_authenticated else None


def _session_name(request: HttpRequest) -> str:
    if request.session.session_key is None:
        request.session.save()
    return hashlib.sha256(str(request.session.session_key).encode()).hexdigest()[:16]
