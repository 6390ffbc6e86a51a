"""Accepting the offer of a membership. Opening the link changes nothing."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from fleet.acting import SESSION_KEY
from fleet.forms.members import JoinForm
from fleet.forms.refused import show_refusal
from fleet.models import Member, MemberInvitation, User
from fleet.operations.members import InvitationOver, accept_member_invitation, open_member_invitation
from fleet.operations.refusals import ActRefused
from fleet.views.entering import enter, entered


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def join(request: HttpRequest, token: str) -> HttpResponse:
    """Show the offer; a POST accepts it, for the signed-in person or with a new account."""
    invitation = open_member_invitation(token)
    if invitation is None:
        return _quiet(render(request, "fleet/join_over.html", {"sentence": InvitationOver.sentence}, status=404))
    user = request.user if isinstance(request.user, User) else None
    form = JoinForm(
        request.POST if request.method == "POST" and user is None else None, initial={"name": invitation.name}
    )
    if request.method != "POST":
        return _page(request, invitation, form, user)
    if user is None and not form.is_valid():
        return _page(request, invitation, form, user, 422)
    said = {} if user else form.cleaned_data
    try:
        member = accept_member_invitation(token=token, user=user, **said)
    except InvitationOver as refusal:
        return _quiet(render(request, "fleet/join_over.html", {"sentence": refusal.sentence}, status=404))
    except ActRefused as refusal:
        if user is None:
            return _page(request, invitation, form, user, show_refusal(form, refusal))
        messages.error(request, str(refusal.sentence))
        return redirect("fleet:today")
    return _welcome(request, member)


def _welcome(request: HttpRequest, member: Member) -> HttpResponse:
    enter(request, member.user)
    request.session[SESSION_KEY] = str(member.public_id)
    messages.success(request, _("Welcome to %(company)s.") % {"company": member.company.name})
    response = _quiet(redirect("fleet:today"))
    entered(request, response)
    return response


def _page(
    request: HttpRequest, invitation: MemberInvitation, form: JoinForm, user: User | None, status: int = 200
) -> HttpResponse:
    known = user is None and User.objects.filter(email__iexact=invitation.email).exists()
    stranger = user is not None and user.email.lower() != invitation.email.lower()
    context = {"invitation": invitation, "form": form, "known": known, "stranger": stranger}
    return _quiet(render(request, "fleet/join.html", context, status=status))


def _quiet(response: HttpResponse) -> HttpResponse:
    response.headers["Cache-Control"] = "no-store"
    # "no-referrer" alone makes browsers send "Origin: null" with the form, which the check of forms refuses
    response.headers["Referrer-Policy"] = "no-referrer, strict-origin"
    return response
