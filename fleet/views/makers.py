"""Makers of the catalogue: name, spellings, and making one of two that are written differently."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST

from fleet.forms.catalogue import MakerForm, MergeForm
from fleet.forms.refused import show_refusal
from fleet.models import Maker, Member
from fleet.operations.makers import add_maker, edit_maker, merge_makers, remove_maker
from fleet.operations.refusals import ActRefused
from fleet.queries.catalogue import maker_by_id, merge_preview
from fleet.views.staff import administrators_page, one_act


@require_http_methods(["GET", "HEAD", "POST"])
@administrators_page
def new_maker(request: HttpRequest, member: Member) -> HttpResponse:
    """Add a maker, and go on to its first model."""
    form = MakerForm(request.POST if request.method == "POST" else None)
    if request.method != "POST" or not form.is_valid():
        return _page(request, member, form, status=422 if form.is_bound else 200)
    try:
        maker = add_maker(actor=member, **form.facts)
    except ActRefused as refusal:
        return _page(request, member, form, status=show_refusal(form, refusal))
    messages.success(request, _("%(name)s is in the catalogue. Next: its first model.") % {"name": maker.name})
    return redirect(f"{reverse('fleet:new_catalogue_model')}?maker={maker.public_id}")


@require_http_methods(["GET", "HEAD", "POST"])
@administrators_page
def maker_page(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Change a maker's name and spellings."""
    maker = _maker_or_404(member, public_id)
    if request.method != "POST":
        typed = {"name": maker.name, "spellings": "\n".join(sorted(each.name for each in maker.spellings.all()))}
        return _page(request, member, MakerForm(initial=typed), maker)
    form = MakerForm(request.POST)
    if not form.is_valid():
        return _page(request, member, form, maker, status=422)
    try:
        edit_maker(actor=member, maker=maker, **form.facts)
    except ActRefused as refusal:
        return _page(request, member, form, maker, status=show_refusal(form, refusal))
    messages.success(request, _("Saved."))
    return redirect("fleet:catalogue")


@require_POST
@administrators_page
def remove(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Take a maker without models out of the catalogue."""
    maker = _maker_or_404(member, public_id)
    return one_act(
        request,
        lambda: remove_maker(actor=member, maker=maker),
        done=_("%(name)s is not in the catalogue any more.") % {"name": maker.name},
        then=reverse("fleet:catalogue"),
        else_then=reverse("fleet:maker", args=[maker.public_id]),
    )


@require_http_methods(["GET", "HEAD", "POST"])
@administrators_page
def merge(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Show what making one of two makers would do; with POST, do it."""
    maker = _maker_or_404(member, public_id)
    form = MergeForm(request.POST if request.method == "POST" else request.GET, member=member, besides=maker)
    if not form.is_valid():
        typed = {"name": maker.name, "spellings": "\n".join(sorted(each.name for each in maker.spellings.all()))}
        return _page(request, member, MakerForm(initial=typed), maker, merging=form, status=422)
    into: Maker = form.cleaned_data["into"]
    if request.method != "POST":
        context = {"maker": maker, "into": into, "preview": merge_preview(maker, into)}
        return render(request, "fleet/maker_merge.html", context)
    return one_act(
        request,
        lambda: merge_makers(actor=member, maker=maker, into=into),
        done=_("%(name)s is now written %(into)s. The other spelling stays known.")
        % {"name": maker.name, "into": into.name},
        then=reverse("fleet:maker", args=[into.public_id]),
    )


def _maker_or_404(member: Member, public_id: UUID) -> Maker:
    maker = maker_by_id(member, public_id)
    if maker is None:
        raise Http404
    return maker


def _page(
    request: HttpRequest,
    member: Member,
    form: MakerForm,
    maker: Maker | None = None,
    *,
    merging: MergeForm | None = None,
    status: int = 200,
) -> HttpResponse:
    if merging is None and maker is not None:
        merging = MergeForm(member=member, besides=maker)
    return render(request, "fleet/maker.html", {"form": form, "maker": maker, "merging": merging}, status=status)
