"""Saying what a device is, moving it, and what firmware it runs."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from fleet.models import DeviceModel, Kind, Member


class DescribeForm(forms.Form):
    """Kind, model and place of a device that stands at a site."""

    kind = forms.ChoiceField(label=_("Kind"), choices=Kind.choices)
    model = forms.ModelChoiceField(
        label=_("Model"),
        queryset=DeviceModel.objects.none(),
        required=False,
        to_field_name="public_id",
        empty_label=_("not known"),
        help_text=_("A model settles the kind as well."),
    )
    position = forms.CharField(label=_("Where it stands"), max_length=80, required=False)

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        models = DeviceModel.objects.filter(company_id=member.company_id).select_related("maker")
        field = self.fields["model"]
        field.queryset = models.order_by("kind", "maker__name", "name")  # type: ignore[attr-defined]  # a ModelChoiceField
        field.label_from_instance = _model_words  # type: ignore[attr-defined]  # likewise


class MoveForm(forms.Form):
    """The site that a device is moved to."""

    to_site = forms.CharField(
        label=_("Code of the site it moves to"),
        max_length=20,
        help_text=_("Eight symbols, on the plate and at the top of the site’s page."),
        widget=forms.TextInput(attrs={"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}),
    )


class FirmwareForm(forms.Form):
    """The firmware version that a device was seen to run."""

    version = forms.CharField(label=_("Firmware version seen"), max_length=40)


def _model_words(model: DeviceModel) -> str:
    return f"{model.get_kind_display()}: {model.maker.name} {model.name}"
