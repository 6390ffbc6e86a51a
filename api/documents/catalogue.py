"""The catalogue as the API takes and gives it."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from api.documents.forms import StrictForm
from api.documents.pages import PageQuery
from fleet.models import DeviceModel, Kind, Maker
from fleet.operations.device_models import MOST_NUMBERS, facts_of_model
from fleet.operations.makers import MOST_SPELLINGS


class MakerForm(StrictForm):
    """A maker; a change replaces its spellings where they are given."""

    name = serializers.CharField(max_length=80)
    spellings = serializers.ListField(
        child=serializers.CharField(max_length=80), max_length=MOST_SPELLINGS, required=False,
        help_text=_("Other ways in which labels and lists write the name."),
    )  # fmt: skip


class MakerChange(MakerForm):
    """What changes in a maker."""

    name = serializers.CharField(max_length=80, required=False)


class MergeOrder(StrictForm):
    """Which maker this one is."""

    into = serializers.UUIDField(help_text=_("The id of the maker that stays."))


class MakerDocument(serializers.Serializer[Any]):
    """A maker with its spellings."""

    id = serializers.UUIDField(source="public_id")
    name = serializers.CharField()
    spellings = serializers.SerializerMethodField()

    def get_spellings(self, maker: Maker) -> list[str]:
        """By name."""
        return sorted(spelling.name for spelling in maker.spellings.all())


class MakerPage(serializers.Serializer[Any]):
    """A page of makers."""

    results = MakerDocument(many=True)
    next = serializers.CharField(allow_null=True, help_text=_("Where to go on; null at the end."))


class ModelFields(StrictForm):
    """What people say about a model."""

    name = serializers.CharField(max_length=80)
    kind = serializers.ChoiceField(choices=Kind.choices)
    gtins = serializers.ListField(
        child=serializers.RegexField(r"^[0-9]{8,14}$"), max_length=MOST_NUMBERS, required=False,
        help_text=_("8, 12, 13 or 14 digits; the first is the usual one."),
    )  # fmt: skip
    part_numbers = serializers.ListField(
        child=serializers.CharField(max_length=80), max_length=MOST_NUMBERS, required=False
    )
    ratings = serializers.DictField(
        child=serializers.CharField(max_length=80), required=False, help_text=_("Name and value as printed.")
    )
    current_firmware = serializers.CharField(max_length=40, required=False, allow_blank=True)
    warranty_months = serializers.IntegerField(min_value=0, max_value=600, required=False, allow_null=True)
    label_hint = serializers.CharField(max_length=200, required=False, allow_blank=True)


class NewModel(ModelFields):
    """A model to add."""

    maker = serializers.UUIDField(help_text=_("The id of its maker."))


class ModelChange(ModelFields):
    """Facts to change; what is left out stays."""

    name = serializers.CharField(max_length=80, required=False)
    kind = serializers.ChoiceField(choices=Kind.choices, required=False)


class ModelDocument(serializers.Serializer[Any]):
    """A model of the catalogue."""

    id = serializers.UUIDField(source="public_id")
    maker = MakerDocument()
    name = serializers.CharField()
    kind = serializers.ChoiceField(choices=Kind.choices)
    gtins = serializers.SerializerMethodField()
    part_numbers = serializers.SerializerMethodField()
    ratings = serializers.DictField(child=serializers.CharField())
    current_firmware = serializers.CharField()
    warranty_months = serializers.IntegerField(allow_null=True)
    label_hint = serializers.CharField()

    def get_gtins(self, model: DeviceModel) -> list[str]:
        """Every GTIN that names it, the usual one first."""
        return list(facts_of_model(model).gtins)

    def get_part_numbers(self, model: DeviceModel) -> list[str]:
        """Every part number that names it, the usual one first."""
        return list(facts_of_model(model).part_numbers)


class ModelPage(serializers.Serializer[Any]):
    """A page of models."""

    results = ModelDocument(many=True)
    next = serializers.CharField(allow_null=True, help_text=_("Where to go on; null at the end."))


class CatalogueQuery(PageQuery):
    """What the lists of makers and models take."""
