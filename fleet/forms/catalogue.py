"""What administrators say of makers and models."""

from typing import Any

from django import forms
from django.utils.translation import gettext as _text
from django.utils.translation import gettext_lazy as _

from fleet.models import DeviceModel, Kind, Maker, Member
from fleet.operations.device_models import ModelFacts, facts_of_model

_PLAIN = {"autocomplete": "off", "spellcheck": "false"}


def _lines(label: Any, help_text: Any = "", rows: int = 2) -> forms.CharField:
    widget = forms.Textarea(attrs=_PLAIN | {"rows": rows})
    return forms.CharField(label=label, help_text=help_text, required=False, max_length=4000, widget=widget)


def _each_line(text: str) -> tuple[str, ...]:
    return tuple(line.strip() for line in text.splitlines() if line.strip())


class MakerForm(forms.Form):
    """A maker and the other ways in which its name is written."""

    name = forms.CharField(label=_("Maker"), max_length=80, widget=forms.TextInput(attrs=_PLAIN))
    spellings = _lines(
        _("Other spellings, one a line"), _("As labels and lists write it. Whoever writes it so means this maker.")
    )

    @property
    def facts(self) -> dict[str, Any]:
        """Name and spellings."""
        return {"name": self.cleaned_data["name"], "spellings": _each_line(self.cleaned_data["spellings"])}


class ModelForm(forms.Form):
    """A model of the catalogue."""

    name = forms.CharField(label=_("Model"), max_length=80, widget=forms.TextInput(attrs=_PLAIN))
    kind = forms.ChoiceField(label=_("Kind"), choices=[("", _("choose")), *Kind.choices])
    gtins = _lines(_("GTINs, one a line"), _("A label with one of these is of this model. The first is the usual one."))
    part_numbers = _lines(_("Part numbers, one a line"), _("Used where a label names no GTIN."))
    ratings = _lines(
        _("Ratings, one a line"), _("Name and value as printed, such as “ac: 5 kW” or “phases: 3”."), rows=3
    )
    current_firmware = forms.CharField(
        label=_("Current firmware"), max_length=40, required=False, widget=forms.TextInput(attrs=_PLAIN)
    )
    warranty_months = forms.IntegerField(
        label=_("Warranty, months"),
        required=False,
        min_value=0,
        max_value=600,
        help_text=_("As the maker gives it; empty where nobody looked it up."),
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    label_hint = forms.CharField(
        label=_("Where the label is"),
        max_length=200,
        required=False,
        help_text=_("Shown to whoever scans: which side, and which of several codes."),
    )

    def clean_ratings(self) -> dict[str, str]:
        """Each line is a name, a colon and a value."""
        ratings = {}
        for line in _each_line(self.cleaned_data["ratings"]):
            name, colon, value = line.partition(":")
            if not colon or not name.strip() or not value.strip():
                raise forms.ValidationError(_text("Write each rating as a name, a colon and a value."))
            ratings[name.strip()] = value.strip()
        return ratings

    @property
    def facts(self) -> ModelFacts:
        """What was typed."""
        given = self.cleaned_data
        return ModelFacts(
            **{name: given[name] for name in ("name", "kind", "ratings", "current_firmware", "label_hint")},
            gtins=_each_line(given["gtins"]),
            part_numbers=_each_line(given["part_numbers"]),
            warranty_months=given["warranty_months"],
        )


class NewModelForm(ModelForm):
    """A model with its maker."""

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["maker"] = maker_field(member, _("Maker"))
        self.order_fields(["maker"])


class MergeForm(forms.Form):
    """The maker that this one is."""

    def __init__(self, *args: Any, member: Member, besides: Maker, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = maker_field(member, _("It is the same maker as"))
        field.queryset = Maker.objects.filter(company_id=member.company_id).exclude(pk=besides.pk).order_by("name")
        self.fields["into"] = field


def maker_field(member: Member, label: Any) -> "forms.ModelChoiceField[Maker]":
    """The company's makers to choose from, by name."""
    return forms.ModelChoiceField(
        label=label,
        queryset=Maker.objects.filter(company_id=member.company_id).order_by("name"),
        to_field_name="public_id",
        empty_label=_("choose"),
    )


def as_typed(model: DeviceModel) -> dict[str, Any]:
    """What the form shows of a model."""
    facts = facts_of_model(model)
    return {
        "name": facts.name,
        "kind": facts.kind,
        "gtins": "\n".join(facts.gtins),
        "part_numbers": "\n".join(facts.part_numbers),
        "ratings": "\n".join(f"{name}: {value}" for name, value in facts.ratings.items()),
        "current_firmware": facts.current_firmware,
        "warranty_months": facts.warranty_months,
        "label_hint": facts.label_hint,
    }
