"""Who the caller acts for."""

from django.utils.translation import gettext_lazy as _
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import acting
from api.describe import describe
from api.documents.me import Me
from api.endpoint import Endpoint
from fleet.models import ApiToken


class WhoAmI(Endpoint):
    """The acting membership, its company and the token's scopes."""

    @describe(_("Who this token or session acts for"), tag="me", operation_id="read_me", answers={200: Me})
    def get(self, request: Request) -> Response:
        """The acting membership."""
        member = acting(request)
        return Response(
            {
                "member": str(member.public_id),
                "name": member.user.name,
                "email": member.user.email,
                "role": member.role,
                "company": {"id": str(member.company.public_id), "name": member.company.name},
                "token": _token(request.auth) if isinstance(request.auth, ApiToken) else None,
            }
        )


def _token(token: ApiToken) -> dict[str, object]:
    return {
        "id": str(token.public_id),
        "name": token.name,
        "scopes": token.scopes,
        "expires_at": token.expires_at,
    }
