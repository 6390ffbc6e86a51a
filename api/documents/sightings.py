"""Standing before a plate or a device."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from api.documents.forms import StrictForm
from api.documents.scans import DeviceInBrief, PlaceInBrief, RawText
from fleet.operations.captures import SOURCES


class SightingForm(StrictForm):
    """What was read from a plate, or from a device that stands somewhere."""

    raw = RawText()
    format = serializers.CharField(required=False, allow_blank=True, max_length=12, default="")
    source = serializers.ChoiceField(  # type: ignore[assignment]  # the record's own word
        choices=SOURCES, required=False, default="api",
        help_text=_("Only a camera opens a site that the member could not see."),
    )  # fmt: skip


class Sighting(serializers.Serializer[Any]):
    """The site, and the device by which it was found."""

    site = PlaceInBrief()
    device = DeviceInBrief(allow_null=True)
