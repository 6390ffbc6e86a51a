"""Teaching a label form: a pattern, examples with what must come out of them, and texts that it must not read."""

from collections.abc import Iterable

from django import forms
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet.labels.forms import LONGEST_PATTERN, LONGEST_TEXT, PART_NAMES, Example, LabelForm, Trial, try_form

MOST_EXAMPLES = 20
_PLAIN = {"autocomplete": "off", "autocapitalize": "off", "spellcheck": "false"}


class TeachForm(forms.Form):
    """The form as people type it: one example a line, its facts after an arrow."""

    name = forms.CharField(label=gettext_lazy("What you call it"), max_length=60)
    pattern = forms.CharField(
        label=gettext_lazy("Pattern of the whole text"),
        max_length=LONGEST_PATTERN,
        strip=False,
        help_text=gettext_lazy(
            "A regular expression with named parts, such as SN:(?P<serial>[A-Z0-9]{8}). Parts: serial, part_number, "
            "batch, gtin, mac, maker, model."
        ),
        widget=forms.TextInput(attrs=_PLAIN | {"class": "serial"}),
    )
    examples = forms.CharField(
        label=gettext_lazy("Examples that it must read"),
        strip=False,
        help_text=gettext_lazy("One scan a line, then => and what must come out: SN:AB12CD34 => serial=AB12CD34"),
        widget=forms.Textarea(attrs=_PLAIN | {"rows": 4, "class": "serial"}),
    )
    counter_examples = forms.CharField(
        label=gettext_lazy("Texts that it must not read"),
        strip=False,
        help_text=gettext_lazy("One a line: labels of other devices that look much alike."),
        widget=forms.Textarea(attrs=_PLAIN | {"rows": 3, "class": "serial"}),
    )

    def clean_examples(self) -> list[Example]:
        """Each line cut at its arrow into a text and facts."""
        return [_example(line) for line in _lines(self.cleaned_data["examples"])]

    def clean_counter_examples(self) -> list[str]:
        """The lines."""
        return _lines(self.cleaned_data["counter_examples"])

    def trials(self) -> list[Trial]:
        """How each text is read by the typed pattern. Raises BadForm where the pattern cannot run."""
        data = self.cleaned_data
        form = LabelForm(data["name"], data["pattern"], tuple(data["examples"]), tuple(data["counter_examples"]))
        return try_form(form)


def as_typed(examples: Iterable[dict[str, object]]) -> str:
    """Kept examples as lines to edit."""
    return "\n".join(f"{example['text']} => {_facts_text(example['facts'])}" for example in examples)


def _facts_text(facts: object) -> str:
    return ", ".join(f"{name}={value}" for name, value in facts.items()) if isinstance(facts, dict) else ""


def _lines(text: str) -> list[str]:
    lines = [line for line in text.splitlines() if line.strip()]
    if len(lines) > MOST_EXAMPLES:
        raise forms.ValidationError(
            _("At most %(most)d lines; there are %(number)d. Nothing was saved.")
            % {"most": MOST_EXAMPLES, "number": len(lines)}
        )
    if any(len(line) > 2 * LONGEST_TEXT for line in lines):
        raise forms.ValidationError(_("One line is longer than any code can be. Nothing was saved."))
    return lines


def _example(line: str) -> Example:
    text, arrow, rest = line.rpartition("=>")
    facts: dict[str, str] = {}
    for piece in rest.split(","):
        name, equals, value = piece.strip().partition("=")
        if not arrow or not equals or name.strip() not in PART_NAMES:
            raise forms.ValidationError(
                _("“%(line)s” does not say what must come out. Write: scanned text => serial=AB12CD34.")
                % {"line": line[:60]}
            )
        facts[name.strip()] = value.strip()
    return Example(text.rstrip(), facts)
