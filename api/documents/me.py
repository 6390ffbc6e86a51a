"""Who the API takes the caller for."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework import serializers

from fleet.models import Role


class CompanyInBrief(serializers.Serializer[Any]):
    """The company that the caller works for."""

    id = serializers.UUIDField()
    name = serializers.CharField()


class TokenInBrief(serializers.Serializer[Any]):
    """The token that was used."""

    id = serializers.UUIDField()
    name = serializers.CharField()
    scopes = serializers.ListField(child=serializers.CharField())
    expires_at = serializers.DateTimeField(allow_null=True)


class Me(serializers.Serializer[Any]):
    """The acting membership."""

    member = serializers.UUIDField()
    name = serializers.CharField()
    email = serializers.CharField()
    role = serializers.ChoiceField(choices=Role.choices)
    company = CompanyInBrief()
    token = TokenInBrief(allow_null=True, help_text=_("Null where the page's session was used."))
