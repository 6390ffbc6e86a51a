"""Who a request to the API acts for."""

from rest_framework.authentication import BaseAuthentication, SessionAuthentication


class TokenAuthentication(BaseAuthentication):
    """A bearer token of one member."""

    def authenticate(self, request: object) -> None:
        """No token scheme yet."""


class PageSession(SessionAuthentication):
    """The page's own session, with CSRF."""
