"""Staff acts about a site's owners: register, attach, correct, end; record what they said; print a letter."""

from uuid import UUID

import qrcode
import qrcode.image.svg
from django.conf import settings
from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from fleet.forms.refused import show_refusal
from fleet.models import Member, Site
from fleet.operations.permissions import Act, may
from fleet.operations.refusals import ActRefused, NotAllowed, NotThere
from fleet.spoken import spoken
from fleet.views.paths import site_or_404
from fleet.views.staff import one_act, staff_page
from onboarding.forms.owning import OwnerForm
from onboarding.models import Owner
from onboarding.operations.invitation_links import written_code
from onboarding.operations.invitations import print_letter, queue_invitation
from onboarding.operations.owners import (
    OwnerAddressTaken,
    OwnerFacts,
    attach_owner,
    edit_owner,
    end_ownership,
    register_owner,
)
from onboarding.operations.sales import keep_owner
from onboarding.queries.owners import visible_owners
from onboarding.views.quiet import secret_page


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def new_owner(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """Register an owner; an address that the member may know of offers to attach that owner instead."""
    site = site_or_404(member, code)
    form = OwnerForm(request.POST if request.method == "POST" else None)
    context = {"form": form, "site": site, "may_attach": may(member, Act.ATTACH_OWNER)}
    if request.method != "POST":
        return render(request, "onboarding/staff/owner_form.html", context)
    if not form.is_valid():
        return render(request, "onboarding/staff/owner_form.html", context, status=422)
    try:
        register_owner(actor=member, site=site, **form.cleaned_data)
    except OwnerAddressTaken as refusal:
        known = visible_owners(member).filter(public_id=str(refusal.facts.get("owner", UUID(int=0))))
        context["known"] = known.first()
        return render(request, "onboarding/staff/owner_form.html", context, status=show_refusal(form, refusal))
    except NotThere as refusal:
        raise Http404 from refusal
    except ActRefused as refusal:
        return render(request, "onboarding/staff/owner_form.html", context, status=show_refusal(form, refusal))
    messages.success(request, _("The owner is registered. Record what they allow, then invite them."))
    return HttpResponseRedirect(site_part(site, "permissions"))


@require_http_methods(["GET", "HEAD", "POST"])
@staff_page
def change_owner(request: HttpRequest, member: Member, code: str, owner_id: UUID) -> HttpResponse:
    """Correct what is known of an owner."""
    site, owner = site_and_owner(member, code, owner_id)
    known = {name: getattr(owner, name) for name in ("name", "email", "phone", "postal_address", "kind", "language")}
    form = OwnerForm(request.POST if request.method == "POST" else None, initial=known)
    context = {"form": form, "site": site, "owner": owner}
    if request.method != "POST":
        return render(request, "onboarding/staff/owner_form.html", context)
    if not form.is_valid():
        return render(request, "onboarding/staff/owner_form.html", context, status=422)
    try:
        edit_owner(actor=member, site=site, owner=owner, facts=OwnerFacts(**form.cleaned_data))
    except NotThere as refusal:
        raise Http404 from refusal
    except ActRefused as refusal:
        status = show_refusal(form, refusal)
        status = 403 if isinstance(refusal, NotAllowed) else status
        return render(request, "onboarding/staff/owner_form.html", context, status=status)
    messages.success(request, _("Saved."))
    return HttpResponseRedirect(site_part(site, "owners"))


@require_POST
@staff_page
def attach(request: HttpRequest, member: Member, code: str, owner_id: UUID) -> HttpResponse:
    """An owner whom the company knows owns this site too."""
    site = site_or_404(member, code)
    owner = visible_owners(member).filter(public_id=owner_id).first()
    if owner is None:
        raise Http404
    return one_act(
        request,
        lambda: attach_owner(actor=member, site=site, owner=owner),
        done=_("%(name)s is now an owner of this site.") % {"name": owner.name},
        then=site_part(site, "owners"),
    )


@require_POST
@staff_page
def end(request: HttpRequest, member: Member, code: str, owner_id: UUID) -> HttpResponse:
    """The site changed hands."""
    site, owner = site_and_owner(member, code, owner_id)
    return one_act(
        request,
        lambda: end_ownership(actor=member, site=site, owner=owner),
        done=_("%(name)s is no longer an owner here. Their permissions for this site have ended.")
        % {"name": owner.name},
        then=site_part(site, "owners"),
    )


@require_POST
@staff_page
def keep(request: HttpRequest, member: Member, code: str, owner_id: UUID) -> HttpResponse:
    """The owner said that the house is sold, and it is not."""
    site, owner = site_and_owner(member, code, owner_id)
    return one_act(
        request,
        lambda: keep_owner(actor=member, site=site, owner=owner),
        done=_("%(name)s stays an owner here. Nothing has ended.") % {"name": owner.name},
        then=site_part(site, "owners"),
    )


@require_POST
@staff_page
def invite(request: HttpRequest, member: Member, code: str, owner_id: UUID) -> HttpResponse:
    """Invite the owner: put in line, or held with its reason."""
    site, owner = site_and_owner(member, code, owner_id)
    return one_act(
        request,
        lambda: queue_invitation(actor=member, site=site, owner=owner),
        done=_("The invitation is made; its state is shown below."),
        then=site_part(site, "owners"),
    )


@require_POST
@secret_page
@staff_page
def letter(request: HttpRequest, member: Member, code: str, owner_id: UUID) -> HttpResponse:
    """A letter with a one-time code, to print. The code is shown this once."""
    site, owner = site_and_owner(member, code, owner_id)
    try:
        invitation, secret = print_letter(actor=member, site=site, owner=owner)
    except NotThere as refusal:
        raise Http404 from refusal
    except NotAllowed as refusal:
        raise PermissionDenied(str(refusal.sentence)) from refusal
    except ActRefused as refusal:
        messages.error(request, str(refusal.sentence))
        return HttpResponseRedirect(site_part(site, "owners"))
    address = settings.BASE_URL + reverse("onboarding:welcome", args=[secret])
    context = {
        "site": site,
        "owner": owner,
        "company": member.company,
        "invitation": invitation,
        "code": written_code(secret),
        "entry": settings.BASE_URL + reverse("onboarding:letter"),
        "picture": _qr(address),
        "spoken": spoken(owner.language),
    }
    return render(request, "onboarding/staff/letter.html", context)


def site_and_owner(member: Member, code: str, owner_id: UUID) -> tuple[Site, Owner]:
    """The visible site with one of its present owners, or 404."""
    site = site_or_404(member, code)
    owner = (
        Owner.objects.filter(public_id=owner_id, ownerships__site=site, ownerships__until__isnull=True)
        .select_related("company")
        .first()
    )
    if owner is None:
        raise Http404
    return site, owner


def site_part(site: Site, part: str) -> str:
    """A part of the site's page."""
    return f"{reverse('fleet:site', args=[site.code])}#{part}"


def _qr(address: str) -> str:
    image = qrcode.make(
        address, image_factory=qrcode.image.svg.SvgPathImage, border=4, error_correction=qrcode.ERROR_CORRECT_Q
    )
    return mark_safe(str(image.to_string(encoding="unicode")))  # noqa: S308  # made here from our own address
