"""Scans as the API takes and gives them."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from drf_spectacular.utils import PolymorphicProxySerializer
from rest_framework import serializers

from api.documents.forms import StrictForm
from api.documents.problems import Problem
from fleet.models import Outcome
from fleet.moments import only_meant
from fleet.operations.captures import SOURCES

LONGEST_TEXT = 4000
MOST_CODES = 8
MOST_IN_BATCH = 100


class RawText(serializers.CharField):
    """A payload exactly as it was read: nothing is trimmed, and control characters are part of it."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(trim_whitespace=False, allow_blank=True, max_length=LONGEST_TEXT, **kwargs)
        # NUL and lone surrogates are for the decoder to refuse, with its reason; only the length is checked here.
        self.validators = [check for check in self.validators if hasattr(check, "limit_value")]


class FurtherCode(StrictForm):
    """A further code of the same label."""

    raw = RawText()
    format = serializers.CharField(required=False, allow_blank=True, max_length=12, default="")


class LabelForm(StrictForm):
    """One captured label, wherever it was read."""

    id = serializers.UUIDField(help_text=_("Made where the label was read; never reused."))
    raw = RawText(help_text=_("What the code holds, exactly."))
    format = serializers.CharField(
        required=False, allow_blank=True, max_length=12, default="", help_text=_("Symbology identifier, such as ]d2.")
    )
    more = serializers.ListField(child=FurtherCode(), required=False, max_length=MOST_CODES)
    source = serializers.ChoiceField(  # type: ignore[assignment]  # the record's own word
        choices=SOURCES, required=False, default="api"
    )
    scanned_at = serializers.DateTimeField(
        validators=[only_meant], help_text=_("When it was read, by the reader's clock.")
    )
    confirmed = serializers.BooleanField(
        required=False, default=False, help_text=_("A person compared this reading with the label.")
    )
    meant_device = serializers.UUIDField(
        required=False, allow_null=True, default=None, help_text=_("Which of the candidates a person says it is.")
    )
    another_unit = serializers.BooleanField(
        required=False, default=False, help_text=_("A person saw the candidates and says that it is none of them.")
    )


class CaptureForm(LabelForm):
    """One captured label at a site."""

    site = serializers.CharField(max_length=40, help_text=_("The site's code."))


class SwapOrder(LabelForm):
    """The label of the device that comes in; where a person had to look first, again with ``confirmed``."""


class ScanBatch(StrictForm):
    """Up to a hundred captures, each answered on its own."""

    scans = serializers.ListField(child=serializers.DictField(), min_length=1, max_length=MOST_IN_BATCH)


SCAN_REQUEST = PolymorphicProxySerializer(
    component_name="ScanOrBatch",
    serializers=[CaptureForm, type("ScanBatchForm", (StrictForm,), {
        "__doc__": "Up to a hundred captures, each answered on its own.",
        "scans": serializers.ListField(child=CaptureForm(), min_length=1, max_length=MOST_IN_BATCH),
    })],
    resource_type_field_name=None,
)  # fmt: skip


class PlaceInBrief(serializers.Serializer[Any]):
    """A site by code and address."""

    code = serializers.CharField()
    address = serializers.CharField()


class DeviceInBrief(serializers.Serializer[Any]):
    """A device as answers name it."""

    id = serializers.UUIDField()
    serial = serializers.CharField()
    kind = serializers.CharField()
    model = serializers.CharField()
    maker = serializers.CharField()


class Candidate(DeviceInBrief):
    """A device that the reading may mean, and why."""

    why = serializers.CharField(help_text=_("same: exactly this serial number; otherwise how it differs."))
    site = PlaceInBrief(allow_null=True)


class PlacementInBrief(serializers.Serializer[Any]):
    """The placement that the scan opened or found."""

    id = serializers.UUIDField()
    since = serializers.DateTimeField()


class ScanDocument(serializers.Serializer[Any]):
    """What came of a capture; the same words every time it is sent."""

    id = serializers.UUIDField()
    outcome = serializers.ChoiceField(choices=Outcome.choices)
    reason = serializers.CharField()
    sentence = serializers.CharField()
    why = serializers.CharField()
    reading = serializers.DictField()
    site = PlaceInBrief()
    device = DeviceInBrief(allow_null=True)
    placement = PlacementInBrief(allow_null=True)
    other_site = PlaceInBrief(allow_null=True)
    candidates = Candidate(many=True)


class ScanInBatch(serializers.Serializer[Any]):
    """The answer for one capture of a batch: its scan, or its problem."""

    id = serializers.CharField(allow_null=True)
    status = serializers.IntegerField()
    scan = ScanDocument(required=False)
    problem = Problem(required=False)


class ScanBatchAnswer(serializers.Serializer[Any]):
    """One answer for each capture, in the order they were sent."""

    results = ScanInBatch(many=True)


SCAN_ANSWER = PolymorphicProxySerializer(
    component_name="ScanOrBatchAnswer", serializers=[ScanDocument, ScanBatchAnswer], resource_type_field_name=None
)
