"""Teaching the decoder label forms of the company's own, with a tester for their examples."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.forms.label_forms import TeachForm, as_typed
from fleet.forms.refused import show_refusal
from fleet.labels.forms import PROBLEMS, BadForm
from fleet.models import LabelForm, Member
from fleet.operations.label_forms import switch_form, teach_form
from fleet.operations.refusals import ActRefused
from fleet.queries.label_forms import label_form_by_name, label_forms_of
from fleet.views.staff import administrators_page, one_act


@require_safe
@administrators_page
def label_forms(request: HttpRequest, member: Member) -> HttpResponse:
    """The company's forms, in the order in which they are tried."""
    return render(request, "fleet/label_forms.html", {"label_forms": list(label_forms_of(member))})


@require_http_methods(["GET", "HEAD", "POST"])
@administrators_page
def new_label_form(request: HttpRequest, member: Member) -> HttpResponse:
    """Teach a form."""
    return _editor(request, member, None)


@require_http_methods(["GET", "HEAD", "POST"])
@administrators_page
def label_form(request: HttpRequest, member: Member, name: str) -> HttpResponse:
    """Change a form; it stays as it was until its examples pass."""
    return _editor(request, member, _form_or_404(member, name))


@require_POST
@administrators_page
def switch(request: HttpRequest, member: Member, name: str) -> HttpResponse:
    """Use a form, or leave it unused."""
    known = _form_or_404(member, name)
    active = request.POST.get("active") == "yes"
    done = _("“%(name)s” is used now.") if active else _("“%(name)s” is not used any more; its examples are kept.")
    return one_act(
        request,
        lambda: switch_form(actor=member, form=known, active=active),
        done=done % {"name": known.name},
        then=reverse("fleet:label_forms"),
    )


def _editor(request: HttpRequest, member: Member, known: LabelForm | None) -> HttpResponse:
    if request.method != "POST":
        return _page(request, known, TeachForm(initial=_initial(known)), 200)
    form = TeachForm(request.POST)
    if not form.is_valid():
        return _page(request, known, form, 422)
    tried = _trials(form)
    if form.errors or "try" in request.POST:
        return _page(request, known, form, 422 if form.errors else 200, trials=tried)
    try:
        kept = teach_form(actor=member, replaces=known, **form.cleaned_data)
    except ActRefused as refusal:
        return _page(request, known, form, show_refusal(form, refusal), trials=tried)
    messages.success(request, _("Saved. “%(name)s” reads labels from now on.") % {"name": kept.name})
    return redirect("fleet:label_forms")


def _trials(form: TeachForm) -> list[dict[str, Any]]:
    try:
        trials = form.trials()
    except BadForm as bad:
        form.add_error("pattern", " ".join(part for part in (_(PROBLEMS[bad.problem]), bad.detail[:120]) if part))
        return []
    return [
        {"text": trial.text, "facts": trial.facts, "problem": _(PROBLEMS[trial.problem]) if trial.problem else ""}
        for trial in trials
    ]


def _initial(known: LabelForm | None) -> dict[str, str]:
    if known is None:
        return {}
    return {
        "name": known.name,
        "pattern": known.pattern,
        "examples": as_typed(known.examples),
        "counter_examples": "\n".join(known.counter_examples),
    }


def _page(
    request: HttpRequest,
    known: LabelForm | None,
    form: TeachForm,
    status: int,
    trials: list[dict[str, Any]] | None = None,
) -> HttpResponse:
    context = {"known": known, "form": form, "trials": trials}
    return render(request, "fleet/label_form.html", context, status=status)


def _form_or_404(member: Member, name: str) -> LabelForm:
    known = label_form_by_name(member, name)
    if known is None:
        raise Http404
    return known
