"""Devices as the API gives them."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from api.documents.forms import StrictForm
from api.documents.pages import PageQuery
from fleet.models import Kind, Placement


class DeviceQuery(PageQuery):
    """What the list of devices takes."""

    serial = serializers.CharField(required=False, max_length=253, help_text=_("Exactly as printed."))
    kind = serializers.ChoiceField(choices=Kind.choices, required=False)
    site = serializers.CharField(required=False, max_length=40, help_text=_("The code of the site it stands at now."))


class MoveOrder(StrictForm):
    """Where a device goes."""

    to_site = serializers.CharField(max_length=40, help_text=_("The code of a site."))


class DeviceChange(StrictForm):
    """What a device is; what is left out stays as it is."""

    kind = serializers.ChoiceField(choices=Kind.choices, required=False, help_text=_("A model settles the kind."))
    model = serializers.UUIDField(
        required=False, allow_null=True, help_text=_("A model of the catalogue; null where it is not known.")
    )


class PlacementDocument(serializers.Serializer[Any]):
    """Where a device stood, from when until when."""

    id = serializers.UUIDField(source="public_id")
    site = serializers.CharField(source="site.written_code")
    since = serializers.DateTimeField()
    until = serializers.DateTimeField(allow_null=True)
    ended = serializers.ChoiceField(choices=Placement.Ended.choices, allow_blank=True)
    bus_role = serializers.ChoiceField(choices=Placement.BusRole.choices, allow_blank=True)
    position = serializers.CharField()


class DeviceDocument(serializers.Serializer[Any]):
    """One device in a list."""

    id = serializers.UUIDField(source="public_id")
    kind = serializers.ChoiceField(choices=Kind.choices)
    serial = serializers.CharField()
    maker = serializers.CharField(source="model.maker.name", default="", read_only=True)
    model = serializers.CharField(source="model.name", default="", read_only=True)
    model_id = serializers.UUIDField(source="model.public_id", default=None, allow_null=True, read_only=True)
    gtin = serializers.CharField()
    part_number = serializers.CharField()
    batch = serializers.CharField()
    produced_on = serializers.DateField(allow_null=True)
    mac = serializers.CharField()
    manufacturer_code = serializers.CharField()
    retired_at = serializers.DateTimeField(allow_null=True)
    created_at = serializers.DateTimeField()


class DeviceCard(DeviceDocument):
    """One device with its visible placements, newest first."""

    placements = PlacementDocument(many=True)


class DevicePage(serializers.Serializer[Any]):
    """A page of devices."""

    results = DeviceDocument(many=True)
    next = serializers.CharField(allow_null=True, help_text=_("Where to go on; null at the end."))
