"""Shows on a form why an act was refused."""

from django import forms

from fleet.operations.refusals import ActRefused, Conflicting, Unable


def show_refusal(form: forms.BaseForm, refusal: ActRefused) -> int:
    """Put the refusal's sentences beside the fields they speak of; gives the HTTP status of the answer."""
    errors = refusal.facts.get("errors", {})
    for name, sentences in errors.items():
        form.add_error(name if name in form.fields else None, [str(sentence) for sentence in sentences])
    if not errors:
        form.add_error(refusal.field if refusal.field in form.fields else None, str(refusal.sentence))
    if isinstance(refusal, Unable):
        return refusal.status
    return 409 if isinstance(refusal, Conflicting) else 422
