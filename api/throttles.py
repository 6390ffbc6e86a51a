"""How many requests one member, or one address that is not signed in, may make in a minute."""

from django.conf import settings
from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle

from api.authentication import member_or_none


class Rate(SimpleRateThrottle):
    """``ROOFTALLY_API_REQUESTS_PER_MINUTE`` for each member; 0 counts nothing."""

    scope = "api"

    def get_rate(self) -> str | None:
        """The rate from the settings, read each time so that tests may change it."""
        return f"{settings.API_REQUESTS_PER_MINUTE}/min" if settings.API_REQUESTS_PER_MINUTE else None

    def get_cache_key(self, request: Request, view: object) -> str:
        """One count per member, or per address."""
        member = member_or_none(request)
        return f"api-rate-{member.public_id if member else self.get_ident(request)}"
