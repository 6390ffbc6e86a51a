"""Consents as the API takes and gives them."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from api.documents.forms import StrictForm
from api.documents.pages import PageQuery
from fleet.moments import only_meant
from onboarding.models import ConsentState, Evidence, Purpose

STAFF_EVIDENCE = [choice for choice in Evidence.choices if choice[0] in {"paper_reference", "staff_statement"}]
SAID_STATES = [choice for choice in ConsentState.choices if choice[0] in {"given", "refused", "withdrawn"}]


class ConsentQuery(PageQuery):
    """What the list of entries takes."""


class NewConsent(StrictForm):
    """What an owner said about one purpose, as staff report it."""

    owner = serializers.UUIDField()
    purpose = serializers.ChoiceField(choices=Purpose.choices)
    state = serializers.ChoiceField(choices=SAID_STATES)
    how = serializers.ChoiceField(choices=STAFF_EVIDENCE)
    reference = serializers.CharField(
        required=False, allow_blank=True, max_length=120, default="", help_text=_("Where the paper is kept.")
    )
    at = serializers.DateTimeField(validators=[only_meant], required=False, allow_null=True, default=None)


class ConsentDocument(serializers.Serializer[Any]):
    """One line of the consent ledger."""

    id = serializers.UUIDField(source="entry_id")
    owner = serializers.UUIDField(source="owner.public_id")
    purpose = serializers.ChoiceField(choices=Purpose.choices)
    state = serializers.ChoiceField(choices=ConsentState.choices)
    evidence = serializers.ChoiceField(choices=Evidence.choices)
    at = serializers.DateTimeField()
    wording_version = serializers.IntegerField(source="wording.version", default=None, allow_null=True, read_only=True)
    position = serializers.IntegerField(help_text=_("The line's number in the company's ledger."))
    mac = serializers.CharField(help_text=_("HMAC-SHA-256 over the line and the one before it."))


class RecordedConsent(ConsentDocument):
    """The new line, and what recording it changed."""

    changed = serializers.BooleanField(help_text=_("Whether the line decides what stands now."))
    effect = serializers.CharField(help_text=_("What it changed, or that it changed nothing, in a sentence."))


class ConsentPage(serializers.Serializer[Any]):
    """A page of ledger lines, newest first."""

    results = ConsentDocument(many=True)
    next = serializers.CharField(allow_null=True, help_text=_("Where to go on; null at the end."))
