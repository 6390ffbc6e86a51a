"""Teaching the decoder a label form of the company's own. A form is kept only with examples that pass."""

import re
from collections.abc import Sequence
from typing import Any

from django.db import IntegrityError, transaction
from django.utils.translation import gettext, ngettext_lazy
from django.utils.translation import gettext_lazy as _

from fleet.labels.forms import PROBLEMS, BadForm, Example, compile_form
from fleet.models import LabelForm, Member
from fleet.operations.audit import record_act
from fleet.operations.captures import without_secrets
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import BadInput, Conflicting, NotThere
from fleet.operations.rollback import unchanged_if_refused

MOST_FORMS = 50
_NAME = re.compile(r"(?!\.+\Z)[\w .,()+-]{1,60}")  # it stands in the address of its page
_FIELDS = {"pattern": "pattern", "part": "pattern", "example": "examples", "counter": "counter_examples"}


class BadLabelForm(BadInput):
    """The form cannot be kept; ``field`` says where, the sentence why."""

    code = "bad_label_form"


class LabelFormTaken(Conflicting):
    """Another form has this name, or there are too many."""

    code = "label_form_taken"
    sentence = _("Another form of yours has this name. Nothing was saved; choose another name.")


class UnknownLabelForm(NotThere):
    """No such form of the company."""

    code = "unknown_label_form"


@unchanged_if_refused
def teach_form(
    *, actor: Member, name: str, pattern: str, examples: Sequence[Example], counter_examples: Sequence[str],
    replaces: LabelForm | None = None,
) -> LabelForm:  # fmt: skip
    """Keep a form, in place of ``replaces`` where given. Raises BadLabelForm, LabelFormTaken, UnknownLabelForm."""
    require(actor, Act.MANAGE_COMPANY)
    name = name.strip()
    examples = [Example(without_secrets(example.text), example.facts) for example in examples]
    counter_examples = [without_secrets(text) for text in counter_examples]
    if not _NAME.fullmatch(name):
        raise BadLabelForm(
            _("A name takes 1 to 60 letters, digits, spaces, hyphens and brackets. Nothing was saved."), field="name"
        )
    try:
        compile_form(name, pattern, examples, counter_examples)
    except BadForm as bad:
        raise _refusal(bad) from bad
    columns = {
        "name": name,
        "pattern": pattern,
        "examples": [{"text": example.text, "facts": dict(example.facts)} for example in examples],
        "counter_examples": list(counter_examples),
    }
    try:
        with transaction.atomic():
            form = _new(actor, columns) if replaces is None else _changed(actor, replaces, columns)
            record_act(act="teach_label_form", company=actor.company, about=form, actor=actor, after=columns)
    except IntegrityError as error:
        raise LabelFormTaken(field="name") from error
    return form


@unchanged_if_refused
def switch_form(*, actor: Member, form: LabelForm, active: bool) -> LabelForm:
    """Use a form, or leave it unused with its examples kept. Raises UnknownLabelForm, NotAllowed."""
    require(actor, Act.MANAGE_COMPANY)
    with transaction.atomic():
        if not LabelForm.objects.filter(pk=form.pk, company_id=actor.company_id).update(active=active):
            raise UnknownLabelForm
        form.refresh_from_db()
        record_act(act="switch_label_form", company=actor.company, about=form, actor=actor, after={"active": active})
    return form


def _new(actor: Member, columns: dict[str, Any]) -> LabelForm:
    if LabelForm.objects.filter(company=actor.company).count() >= MOST_FORMS:
        raise LabelFormTaken(
            ngettext_lazy(
                "A company takes at most %d form. Nothing was saved.",
                "A company takes at most %d forms. Nothing was saved.",
                MOST_FORMS,
            )
            % MOST_FORMS
        )
    return LabelForm.objects.create(company=actor.company, created_by=actor, **columns)


def _changed(actor: Member, form: LabelForm, columns: dict[str, Any]) -> LabelForm:
    if not LabelForm.objects.filter(pk=form.pk, company_id=actor.company_id).update(**columns):
        raise UnknownLabelForm
    form.refresh_from_db()
    return form


def _refusal(bad: BadForm) -> BadLabelForm:
    sentence = gettext(PROBLEMS[bad.problem])
    if bad.detail:
        sentence = f"{sentence} ({bad.detail[:120]})"
    return BadLabelForm(
        gettext("%(problem)s Nothing was saved.") % {"problem": sentence},
        field=_FIELDS[bad.problem.split("_")[0]],
        problem=bad.problem,
    )
