"""The root of all shapes that the API takes: what it does not know, it refuses."""

from collections.abc import Mapping
from typing import Any

from django.utils.translation import gettext as _
from rest_framework import serializers


class StrictForm(serializers.Serializer[Any]):
    """Refuses members that it does not name, so that a typing mistake never passes for a value left out."""

    def to_internal_value(self, data: Any) -> Any:
        """The checked values; raises ValidationError with every fault at once."""
        unknown = set(data) - set(self.fields) if isinstance(data, Mapping) else set()
        faults: dict[str, Any] = {
            str(name): [serializers.ErrorDetail(_("There is no such field."), "unknown_field")]
            for name in sorted(unknown, key=str)
        }
        try:
            values = super().to_internal_value(data)
        except serializers.ValidationError as error:
            if not faults or not isinstance(error.detail, dict):
                raise
            raise serializers.ValidationError(error.detail | faults) from error
        if faults:
            raise serializers.ValidationError(faults)
        return values
