"""RFC 9457 problem details."""

from typing import Any

from rest_framework.response import Response
from rest_framework.views import exception_handler


def problem_response(error: Exception, context: dict[str, Any]) -> Response | None:
    """The problem document of an exception."""
    return exception_handler(error, context)
