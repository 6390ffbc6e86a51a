"""Looking up API tokens."""

import hashlib

from django.db.models import Q, QuerySet
from django.utils import timezone

from fleet.models import ApiToken, Member


def member_of_token(secret: str) -> ApiToken | None:
    """The live token with this secret, with its member, company and user; None for any other text."""
    digest = hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()
    return (
        ApiToken.objects.filter(
            Q(expires_at__isnull=True) | Q(expires_at__gt=timezone.now()),
            token_hash=digest,
            revoked_at__isnull=True,
            member__active=True,
            member__user__is_active=True,
        )
        .select_related("member__company__policy", "member__user")
        .first()
    )


def tokens_shown_to(member: Member) -> QuerySet[ApiToken]:
    """A member's own tokens; an administrator sees all of the company."""
    tokens = ApiToken.objects.filter(company_id=member.company_id).select_related("member__user").order_by("-id")
    return tokens if member.is_administrator else tokens.filter(member=member)
