"""Labels to explain, and their explanation."""

from typing import Any

from django.utils.translation import gettext as _text
from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from api.documents.forms import StrictForm
from api.documents.scans import MOST_CODES, FurtherCode, RawText


class LabelPayload(StrictForm):
    """One payload, or all codes of one label."""

    payload = RawText(required=False, help_text=_("What one code holds."))
    symbology = serializers.CharField(
        required=False, allow_blank=True, max_length=12, help_text=_("Symbology identifier, such as ]Q1.")
    )
    codes = serializers.ListField(child=FurtherCode(), required=False, min_length=1, max_length=MOST_CODES)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """One of the two must be there."""
        if ("payload" in attrs) == ("codes" in attrs):
            raise serializers.ValidationError(_text("Send either a payload or the codes of one label."), "one_of")
        return attrs


class LabelImage(StrictForm):
    """A picture of one label."""

    image = serializers.FileField(allow_empty_file=False, max_length=200, help_text=_("JPEG, PNG, WebP or HEIC."))


class ExplainedElement(serializers.Serializer[Any]):
    """One data element and the fact it gave."""

    identifier = serializers.CharField()
    title = serializers.CharField()
    value = serializers.CharField()
    position = serializers.IntegerField(help_text=_("Where it starts in the payload, counted from 0."))
    fact = serializers.CharField(help_text=_("The fact that it gave; empty where none."))
    code = serializers.IntegerField(help_text=_("Which code of the label, counted from 0."))


class ExplainedWarning(serializers.Serializer[Any]):
    """Something that was odd about the label."""

    key = serializers.CharField()
    sentence = serializers.CharField()


class LabelExplanation(serializers.Serializer[Any]):
    """What one label says, or why and where reading stopped. Positions count characters from 0."""

    read = serializers.BooleanField(help_text=_("Whether it was understood."))
    standard = serializers.CharField(allow_null=True)
    standard_title = serializers.CharField(allow_null=True)
    facts = serializers.DictField(child=serializers.CharField())
    confirm = serializers.BooleanField(help_text=_("A person must confirm it before anything is linked."))
    elements = ExplainedElement(many=True)
    warnings = ExplainedWarning(many=True)
    refuse = serializers.CharField(allow_null=True, help_text=_("The class of the reason."))
    reason = serializers.CharField(allow_null=True)
    position = serializers.IntegerField(allow_null=True, help_text=_("Where reading stopped."))
    identifier = serializers.CharField(allow_null=True)
    payload_class = serializers.CharField(allow_null=True)
    payload_length = serializers.IntegerField(allow_null=True)
    code = serializers.IntegerField(allow_null=True, help_text=_("Which code of the label was at fault."))
    codes = serializers.IntegerField(help_text=_("How many codes were read."))
