"""The problem document (RFC 9457) as the schema describes it."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers


class Fault(serializers.Serializer[Any]):
    """One value that cannot be used."""

    pointer = serializers.CharField(help_text=_("JSON pointer (RFC 6901) to the value; empty for the whole body."))
    code = serializers.CharField()
    detail = serializers.CharField()


class Problem(serializers.Serializer[Any]):
    """Why a request was not done. ``code`` is stable; the sentences are for people, in the asked language."""

    type = serializers.CharField()
    title = serializers.CharField()
    status = serializers.IntegerField()
    code = serializers.CharField()
    detail = serializers.CharField()
    errors = Fault(many=True, required=False)  # type: ignore[assignment]  # the member's name in the document
    facts = serializers.DictField(required=False)
