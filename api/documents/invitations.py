"""Invitations as the API takes and gives them."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from api.documents.forms import StrictForm
from api.documents.pages import PageQuery
from onboarding.models import HeldReason, InvitationState


class InvitationQuery(PageQuery):
    """What a list of invitations takes."""

    state = serializers.ChoiceField(choices=InvitationState.choices, required=False)


class NewInvitation(StrictForm):
    """Whom to invite."""

    owner = serializers.UUIDField(help_text=_("An owner of this site."))


class InvitationDocument(serializers.Serializer[Any]):
    """One invitation. Its link and token are never given out."""

    id = serializers.UUIDField(source="public_id")
    site = serializers.CharField(source="site.written_code")
    owner = serializers.UUIDField(source="owner.public_id")
    state = serializers.ChoiceField(choices=InvitationState.choices)
    held_reason = serializers.ChoiceField(choices=HeldReason.choices, allow_blank=True)
    send_number = serializers.IntegerField()
    reminders = serializers.IntegerField()
    created_at = serializers.DateTimeField()
    sent_at = serializers.DateTimeField(allow_null=True)
    opened_at = serializers.DateTimeField(allow_null=True)
    accepted_at = serializers.DateTimeField(allow_null=True)
    expires_at = serializers.DateTimeField(allow_null=True)
    ended_at = serializers.DateTimeField(allow_null=True)


class InvitationPage(serializers.Serializer[Any]):
    """A page of invitations, newest first."""

    results = InvitationDocument(many=True)
    next = serializers.CharField(allow_null=True, help_text=_("Where to go on; null at the end."))


class ReadyQuery(PageQuery):
    """Which owners: never invited, or those whose invitation ran out unanswered."""

    reason = serializers.ChoiceField(
        choices=[("never_invited", _("Never invited")), ("ran_out", _("Ran out"))],
        required=False,
        default="never_invited",
    )


class ReadyDocument(serializers.Serializer[Any]):
    """An owner at a site who may be written to and has no account."""

    owner = serializers.UUIDField(source="owner.public_id")
    site = serializers.CharField(source="site.written_code")


class ReadyPage(serializers.Serializer[Any]):
    """A page of owners, newest first."""

    results = ReadyDocument(many=True)
    next = serializers.CharField(allow_null=True, help_text=_("Where to go on; null at the end."))
