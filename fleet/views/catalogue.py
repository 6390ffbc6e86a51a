"""The catalogue: everybody reads it, administrators change its models."""

from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.forms.catalogue import ModelForm, NewModelForm, as_typed
from fleet.forms.refused import show_refusal
from fleet.models import DeviceModel, Member
from fleet.operations.device_models import add_model, edit_model, remove_model
from fleet.operations.refusals import ActRefused
from fleet.operations.starter_lists import STARTER_LISTS, take_starter_list
from fleet.queries.catalogue import catalogue_of, makers_of, model_by_id
from fleet.views.staff import administrators_page, one_act, staff_page


@require_safe
@staff_page
def catalogue(request: HttpRequest, member: Member) -> HttpResponse:
    """What the company installs."""
    context = {
        "models": list(catalogue_of(member)),
        "makers": list(makers_of(member)),
        "starter_lists": list(STARTER_LISTS.items()),
    }
    return render(request, "fleet/catalogue.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@administrators_page
def new_model(request: HttpRequest, member: Member) -> HttpResponse:
    """Add a model of a maker."""
    if request.method != "POST":
        asked = request.GET.get("maker", "")
        maker = next((each for each in makers_of(member) if str(each.public_id) == asked), None)
        form = NewModelForm(member=member, initial={"maker": maker.public_id} if maker else {})
        return _page(request, form)
    form = NewModelForm(request.POST, member=member)
    if not form.is_valid():
        return _page(request, form, status=422)
    try:
        model = add_model(actor=member, maker=form.cleaned_data["maker"], facts=form.facts)
    except ActRefused as refusal:
        return _page(request, form, status=show_refusal(form, refusal))
    messages.success(request, _("%(name)s is in the catalogue.") % {"name": model.name})
    return redirect("fleet:catalogue")


@require_http_methods(["GET", "HEAD", "POST"])
@administrators_page
def model_page(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Change what the catalogue says of a model."""
    model = model_or_404(member, public_id)
    if request.method != "POST":
        return _page(request, ModelForm(initial=as_typed(model)), model)
    form = ModelForm(request.POST)
    if not form.is_valid():
        return _page(request, form, model, status=422)
    try:
        edit_model(actor=member, model=model, facts=form.facts)
    except ActRefused as refusal:
        return _page(request, form, model, status=show_refusal(form, refusal))
    messages.success(request, _("Saved."))
    return redirect("fleet:catalogue")


@require_POST
@administrators_page
def remove(request: HttpRequest, member: Member, public_id: UUID) -> HttpResponse:
    """Take a model that no device is of out of the catalogue."""
    model = model_or_404(member, public_id)
    return one_act(
        request,
        lambda: remove_model(actor=member, model=model),
        done=_("%(name)s is not in the catalogue any more.") % {"name": model.name},
        then=reverse("fleet:catalogue"),
        else_then=reverse("fleet:catalogue_model", args=[model.public_id]),
    )


@require_POST
@administrators_page
def start(request: HttpRequest, member: Member) -> HttpResponse:
    """Begin an empty catalogue with a starter list."""
    name = request.POST.get("list", "")
    return one_act(
        request,
        lambda: take_starter_list(actor=member, name=name),
        done=_("The list is in the catalogue. Change it to what you install."),
        then=reverse("fleet:catalogue"),
    )


def model_or_404(member: Member, public_id: UUID) -> DeviceModel:
    """The company's model with this public id."""
    model = model_by_id(member, public_id)
    if model is None:
        raise Http404
    return model


def _page(
    request: HttpRequest, form: ModelForm, model: DeviceModel | None = None, *, status: int = 200
) -> HttpResponse:
    return render(request, "fleet/catalogue_model.html", {"form": form, "model": model}, status=status)
