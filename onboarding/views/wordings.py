"""The wordings editor: versions of what owners are asked, with a look at what would change."""

from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_safe

from fleet.forms.refused import show_refusal
from fleet.models import Member
from fleet.operations.refusals import ActRefused
from fleet.views.staff import administrators_page
from onboarding.forms.staff import WordingForm
from onboarding.models import Purpose, Wording
from onboarding.operations.wordings import publish_wording
from onboarding.queries.endings import owners_answered
from onboarding.queries.wording_changes import word_changes
from onboarding.queries.wordings import current_wordings, languages_offered, newest_wordings, wordings_of

MOST_VERSIONS = 50


@require_safe
@administrators_page
def wordings(request: HttpRequest, member: Member) -> HttpResponse:
    """Every purpose in every language, with the version in use."""
    newest = newest_wordings(member.company)
    languages = languages_offered(member.company)
    rows = [
        {"purpose": purpose, "languages": [(code, name, newest.get((purpose, code))) for code, name in languages]}
        for purpose in Purpose
    ]
    return render(request, "onboarding/staff/wordings.html", {"rows": rows})


@require_http_methods(["GET", "HEAD", "POST"])
@administrators_page
def wording(request: HttpRequest, member: Member, purpose: str, language: str) -> HttpResponse:
    """One wording: its versions, and the next one. *Preview* shows what would change; only *Publish* publishes."""
    offered = dict(languages_offered(member.company))
    if purpose not in Purpose.values or language not in offered:
        raise Http404
    in_use = newest_wordings(member.company).get((purpose, language))
    context: dict[str, Any] = {
        "purpose": Purpose(purpose),
        "language": language,
        "language_name": offered[language],
        "in_use": in_use,
        "versions": list(wordings_of(member).filter(purpose=purpose, language=language)[:MOST_VERSIONS]),
        "form": WordingForm.showing(in_use or current_wordings(member.company, language).get(purpose)),
    }
    if request.method != "POST":
        return render(request, "onboarding/staff/wording.html", context)
    form = context["form"] = WordingForm(request.POST)
    if not form.is_valid():
        return render(request, "onboarding/staff/wording.html", context, status=422)
    if request.POST.get("act") != "publish":
        context |= {"changes": _changes(in_use, form), "concerned": owners_answered(in_use) if in_use else 0}
        return render(request, "onboarding/staff/wording.html", context)
    try:
        made = publish_wording(
            actor=member,
            purpose=purpose,
            language=language,
            text=form.cleaned_data["text"],
            particulars=form.particulars,
        )
    except ActRefused as refusal:
        return render(request, "onboarding/staff/wording.html", context, status=show_refusal(form, refusal))
    messages.success(
        request,
        _("Version %(n)d is in use. Earlier answers stand for the text they were given to.") % {"n": made.version},
    )
    return HttpResponseRedirect(reverse("onboarding:wording", args=[purpose, language]))


def _changes(in_use: Wording | None, form: WordingForm) -> list[dict[str, Any]]:
    """What would change, field by field; fields that stay are left out."""
    before = {"text": in_use.text, **in_use.particulars} if in_use else {}
    after = {"text": form.cleaned_data["text"].strip().replace("\r\n", "\n"), **form.particulars}
    return [
        {
            "label": form.fields["kinds" if name == "data" else name].label,
            "pieces": word_changes(_plain(before.get(name, "")), _plain(after[name])),
        }
        for name in after
        if _plain(before.get(name, "")) != _plain(after[name])
    ]


def _plain(value: Any) -> str:
    return "\n".join(value) if isinstance(value, list) else str(value)
