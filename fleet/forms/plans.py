"""What is planned at a site, and the numbers by which others know it."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.forms.devices import model_field
from fleet.models import Kind, Member, Site, SiteReference
from fleet.operations.plans import MOST_EXPECTED
from fleet.operations.references import Reference
from fleet.queries.plans import stated_counts


class PlanForm(forms.Form):
    """How many of each kind will stand at the site; empty is "nobody said", 0 is "none"."""

    mostly_optional = True

    def __init__(self, *args: Any, site: Site | None = None, **kwargs: Any) -> None:
        if site is not None:
            kwargs["initial"] = stated_counts(site)
        super().__init__(*args, **kwargs)
        for kind in Kind:
            self.fields[kind.value] = forms.IntegerField(
                label=kind.label,
                required=False,
                min_value=0,
                max_value=MOST_EXPECTED,
                widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "maxlength": 3}),
            )

    @property
    def counts(self) -> dict[str, int | None]:
        """What was said of each kind."""
        return {kind.value: self.cleaned_data[kind.value] for kind in Kind}


class PlannedUnitForm(forms.Form):
    """One unit of which more than the kind is known."""

    kind = forms.ChoiceField(label=_("Kind"), choices=[("", _("choose")), *Kind.choices])
    serial = forms.CharField(
        label=_("Serial number"),
        max_length=253,
        required=False,
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )
    position = forms.CharField(label=_("Where it will stand"), max_length=80, required=False)

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["model"] = model_field(member)
        self.order_fields(["kind", "model", "serial", "position"])


class ReferencesForm(forms.Form):
    """The numbers by which others know the site; several of a kind with commas between."""

    mostly_optional = True

    def __init__(self, *args: Any, site: Site | None = None, **kwargs: Any) -> None:
        if site is not None:
            kwargs["initial"] = _written(site)
        super().__init__(*args, **kwargs)
        for kind in SiteReference.Kind:
            self.fields[kind.value] = forms.CharField(
                label=kind.label,
                required=False,
                max_length=400,
                widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
            )
        self.fields["other"].label = _("Other number")

    @property
    def references(self) -> list[Reference]:
        """Kind and value of each number."""
        return [
            (kind.value, value.strip())
            for kind in SiteReference.Kind
            for value in self.cleaned_data[kind.value].split(",")
            if value.strip()
        ]


def _written(site: Site) -> dict[str, str]:
    written: dict[str, list[str]] = {}
    for row in SiteReference.objects.filter(site=site).order_by("pk"):
        written.setdefault(row.kind, []).append(row.value)
    return {kind: ", ".join(values) for kind, values in written.items()}
