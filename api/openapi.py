"""The OpenAPI 3.1 document: made once per language, and honest about what is refused."""

from functools import lru_cache
from threading import Lock
from typing import Any

from django.utils.translation import get_language
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.openapi import AutoSchema


class BearerToken(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]  # its metaclass has no types
    """Describes ``Authorization: Bearer``."""

    target_class = "api.authentication.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, Any]:
        """A bearer token."""
        return {"type": "http", "scheme": "bearer"}


class PageCookie(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]  # its metaclass has no types
    """Describes the page's session."""

    target_class = "api.authentication.PageSession"
    name = "session"

    def get_security_definition(self, auto_schema: AutoSchema) -> dict[str, Any]:
        """The session's cookie."""
        return {"type": "apiKey", "in": "cookie", "name": "rooftally_session"}


_making = Lock()


def schema_document() -> dict[str, Any]:
    """The whole document in the current language. The generator keeps notes of its own, so one makes it at a time."""
    with _making:
        return _made(get_language() or "en")


@lru_cache(maxsize=8)
def _made(language: str) -> dict[str, Any]:
    document: dict[str, Any] = SchemaGenerator().get_schema(public=True)  # type: ignore[no-untyped-call]  # untyped
    return document


def only_v1(endpoints: list[Any], **kwargs: Any) -> list[Any]:
    """The described operations: version 1 alone, without the document itself."""
    return [endpoint for endpoint in endpoints if endpoint[0].startswith("/api/v1/")]


def say_what_is_refused(result: dict[str, Any], generator: Any, request: Any, public: bool) -> dict[str, Any]:
    """Request bodies take no members that they do not name."""
    for name, schema in result["components"]["schemas"].items():
        if name.endswith("Request") and schema.get("type") == "object":
            schema["additionalProperties"] = False
    return result
