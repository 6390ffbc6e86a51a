"""What is recorded at a site from its page: checks, assignments, files."""

from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_POST, require_safe

from fleet.kept_files import FileGone
from fleet.models import Member, Site
from fleet.moments import read_day
from fleet.operations.assignments import assign, unassign
from fleet.operations.checks import record_check
from fleet.operations.files import BadFile, refuse_too_large, store_file
from fleet.operations.refusals import BadInput
from fleet.queries.files import file_content, visible_file
from fleet.queries.members import member_by_id
from fleet.views.paths import site_or_404
from fleet.views.staff import one_act, staff_page


class BadDay(BadInput):
    """The day cannot be read."""

    code = "bad_day"
    sentence = gettext_lazy(
        "The day was not understood, so nobody was assigned. Write it as year-month-day, or leave it out."
    )


@require_POST
@staff_page
def check(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """Record what a handover check found."""
    site = site_or_404(member, code)
    post = request.POST
    return one_act(
        request,
        lambda: record_check(
            actor=member,
            site=site,
            title=post.get("title", ""),
            finding=post.get("finding", ""),
            note=post.get("note", ""),
        ),
        done=_("Recorded: %(title)s.") % {"title": post.get("title", "").strip()},
        then=_page(site, "to-do"),
    )


@require_POST
@staff_page
def assign_to_site(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """Expect a member at the site."""
    site = site_or_404(member, code)
    other = _member_or_404(member, request.POST.get("member", ""))

    def act() -> None:
        typed = request.POST.get("until", "").strip()
        until = read_day(typed) if typed else None
        if typed and until is None:
            raise BadDay
        assign(actor=member, member=other, site=site, until=until)

    done = _("%(name)s is now expected here.") % {"name": other.user.get_full_name()}
    return one_act(request, act, done=done, then=_page(site, "expected-people"))


@require_POST
@staff_page
def unassign_from_site(request: HttpRequest, member: Member, code: str, public_id: str) -> HttpResponse:
    """Expect a member at the site no longer."""
    site = site_or_404(member, code)
    other = _member_or_404(member, public_id)
    return one_act(
        request,
        lambda: unassign(actor=member, member=other, site=site),
        done=_("%(name)s is not expected here any more.") % {"name": other.user.get_full_name()},
        then=_page(site, "expected-people"),
    )


@require_POST
@staff_page
def add_file(request: HttpRequest, member: Member, code: str) -> HttpResponse:
    """Keep a photo or paper at the site."""
    site = site_or_404(member, code)
    given = request.FILES.get("content")

    def act() -> None:
        if given is None:
            raise BadFile(_("No file was chosen, so nothing was kept."))
        refuse_too_large(given.size or 0)
        store_file(
            actor=member,
            site=site,
            name=given.name or "",
            content=given.read(),
            content_type=given.content_type or "",
            purpose="document" if given.content_type == "application/pdf" else "photo",
        )

    return one_act(request, act, done=_("The file is kept here."), then=_page(site, "files"))


@require_safe
@staff_page
def file(request: HttpRequest, member: Member, public_id: str) -> HttpResponse:
    """A kept file, as it was handed in; never shown as part of our pages."""
    found = visible_file(member, public_id)
    if found is None:
        raise Http404
    try:
        content = file_content(found)
    except FileGone:
        return render(request, "fleet/file_lost.html", {"file": found}, status=410)
    response = HttpResponse(content, content_type=found.content_type)
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    response.headers["Cache-Control"] = "private, no-store"
    response.headers["Content-Disposition"] = f'inline; filename="{found.sha256[:12]}"'
    return response


def _page(site: Site, part: str) -> str:
    return f"{reverse('fleet:site', args=[site.code])}#{part}"


def _member_or_404(member: Member, public_id: str) -> Member:
    try:
        other = member_by_id(member, public_id)
    except (ValidationError, ValueError):
        other = None
    if other is None:
        raise Http404
    return other
