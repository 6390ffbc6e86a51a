"""Saying what a device is, moving it, and what firmware it runs."""

from typing import Any

from django import forms
from django.db.models import Model
from django.utils.translation import gettext_lazy as _

from fleet.models import DeviceModel, Kind, Member


class WhatForm(forms.Form):
    """Kind and model of a device."""

    kind = forms.ChoiceField(label=_("Kind"), choices=Kind.choices)

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["model"] = model_field(member)
        self.order_fields(["kind", "model"])


class DescribeForm(WhatForm):
    """Kind, model and place of a device that stands at a site."""

    position = forms.CharField(label=_("Where it stands"), max_length=80, required=False)


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


class ModelChoice(forms.ModelChoiceField):  # type: ignore[type-arg]  # generic for the type checker only
    """A model of the catalogue, or none."""

    def label_from_instance(self, obj: Model) -> str:
        """Kind, maker and name."""
        return f"{obj.get_kind_display()}: {obj.maker.name} {obj.name}" if isinstance(obj, DeviceModel) else str(obj)


def model_field(member: Member) -> ModelChoice:
    """The models of the member's company to choose from, by kind, maker and name."""
    models = DeviceModel.objects.filter(company_id=member.company_id).select_related("maker")
    return ModelChoice(
        label=_("Model"),
        queryset=models.order_by("kind", "maker__name", "name"),
        required=False,
        to_field_name="public_id",
        empty_label=_("not known"),
        help_text=_("A model settles the kind as well."),
    )
