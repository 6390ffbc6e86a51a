"""Addresses under /api/ that are none of ours."""

from typing import Any

from django.http import Http404
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import Endpoint


class Unknown(Endpoint):
    """404 with a problem document, in every method, signed in or not."""

    authentication_classes = []
    permission_classes = []

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Nothing here is ever read."""
        raise Http404

    def get(self, request: Request, rest: str) -> Response:
        """Never reached: every method raises before."""
        raise Http404
