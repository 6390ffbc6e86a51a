"""A company's people: invite, change roles, let go."""

from uuid import UUID

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from fleet.forms.members import InviteMemberForm, LetGoForm, RoleForm
from fleet.forms.refused import show_refusal
from fleet.models import Member
from fleet.operations.members import cancel_member_invitation, change_role, deactivate_member, invite_member
from fleet.operations.refusals import ActRefused
from fleet.queries.members import member_by_id, member_invitation_by_id, members_of, open_member_invitations
from fleet.views.staff import administrators_page, one_act, staff_page


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def members(request: HttpRequest, member: Member) -> HttpResponse:
    """Everybody who works here; administrators invite further people."""
    if request.method == "POST" and not member.is_administrator:
        raise PermissionDenied
    form = InviteMemberForm(request.POST or None)
    status = 200
    if request.method == "POST":
        status = 422
        if form.is_valid():
            try:
                invitation = invite_member(actor=member, **form.cleaned_data)
            except ActRefused as refusal:
                status = show_refusal(form, refusal)
            else:
                messages.success(request, _("An invitation to %(email)s is on its way.") % {"email": invitation.email})
                return redirect("fleet:members")
    people = list(members_of(member))
    context = {
        "form": form,
        "people": [person for person in people if person.active],
        "former": [person for person in people if not person.active],
        "invitations": list(open_member_invitations(member)) if member.is_administrator else [],
        "now": timezone.now(),
    }
    return render(request, "fleet/members.html", context, status=status)


@require_http_methods(["GET", "HEAD"])
@administrators_page
def member_page(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """One member: role, and letting go."""
    person = _member_or_404(member, public_id)
    context = {
        "person": person,
        "role_form": RoleForm(initial={"role": person.role}),
        "leave_form": LetGoForm(leaving=person),
        "assignments": person.assignments.count(),
    }
    return render(request, "fleet/member.html", context)


@require_POST
@administrators_page
def role(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Give a member another role."""
    person = _member_or_404(member, public_id)
    wanted = request.POST.get("role", "")
    return one_act(
        request,
        lambda: change_role(actor=member, member=person, role=wanted),
        done=_("%(name)s’s role was changed.") % {"name": person.user.get_full_name()},
        then=reverse("fleet:members"),
        else_then=reverse("fleet:member", args=[public_id]),
    )


@require_POST
@administrators_page
def deactivate(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Let a member go: sessions and tokens end, assignments are handed over."""
    person = _member_or_404(member, public_id)
    form = LetGoForm(request.POST, leaving=person)
    if not form.is_valid():
        raise Http404
    done = _("%(name)s does not work here any more: sessions and tokens ended, what they did stays recorded.")
    return one_act(
        request,
        lambda: deactivate_member(actor=member, member=person, hand_to=form.cleaned_data["hand_to"]),
        done=done % {"name": person.user.get_full_name()},
        then=reverse("fleet:members"),
        else_then=reverse("fleet:member", args=[public_id]),
    )


@require_POST
@administrators_page
def cancel_invitation(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Withdraw the offer of a membership."""
    invitation = member_invitation_by_id(member, public_id)
    if invitation is None:
        raise Http404
    return one_act(
        request,
        lambda: cancel_member_invitation(actor=member, invitation=invitation),
        done=_("Withdrawn; the link in that mail is dead."),
        then=reverse("fleet:members"),
    )


def _member_or_404(member: Member, public_id: UUID) -> Member:
    person = member_by_id(member, public_id)
    if person is None:
        raise Http404
    return person
