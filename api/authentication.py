"""Who a request to the API acts for: a member's token, or the page's own session."""

from typing import Any

from django.utils.translation import gettext_lazy as _
from rest_framework.authentication import BaseAuthentication, SessionAuthentication
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.request import Request

from fleet.models import ApiToken, Member, User
from fleet.operations.tokens import note_use
from fleet.queries.tokens import member_of_token


class TokenAuthentication(BaseAuthentication):
    """``Authorization: Bearer …``: a token of one member, of which only the SHA-256 is kept here."""

    def authenticate(self, request: Request) -> tuple[User, ApiToken] | None:
        """The token's user; None where the request brings no bearer token, so that the session is asked next."""
        scheme, _space, secret = request.headers.get("Authorization", "").partition(" ")
        if scheme.lower() != "bearer":
            return None
        token = member_of_token(secret.strip())
        if token is None:
            raise AuthenticationFailed(
                _("This token is unknown, was revoked or has expired. Nothing was changed. Use a current token."),
                code="token_not_valid",
            )
        note_use(token=token)
        return token.member.user, token

    def authenticate_header(self, request: Request) -> str:
        """What a 401 answer offers."""
        return 'Bearer realm="Rooftally"'


class PageSession(SessionAuthentication):
    """The page's own session; a request that changes something must bring the CSRF token."""


class FieldSession(PageSession):
    """The page's session, alone; a signed-out phone is answered with 401, so that it asks its person to sign in."""

    def authenticate_header(self, request: Request) -> str:
        """What a 401 answer offers: signing in on the page."""
        return 'Session realm="Rooftally"'


def acting(request: Request) -> Member:
    """The membership that ``request`` acts for; the permission check made sure that there is one."""
    member = member_or_none(request)
    if member is None:
        raise AssertionError("an endpoint without the ActingMember permission asked for the acting member")
    return member


def member_or_none(request: Request) -> Member | None:
    """The membership behind the token, else the session's acting membership, else None."""
    if isinstance(request.auth, ApiToken):
        return request.auth.member
    member: Any = getattr(request, "member", None)
    return member if isinstance(member, Member) else None
