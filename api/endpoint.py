"""What every endpoint of the API does alike: one media type out, a limit on what comes in, and who is asked first."""

from collections.abc import Iterable
from typing import Any, TypeVar

from django.conf import settings
from rest_framework.negotiation import BaseContentNegotiation
from rest_framework.parsers import BaseParser
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.serializers import Serializer
from rest_framework.views import APIView

from api.json_body import JsonBody, too_large
from api.throttles import Rate

Parsed = TypeVar("Parsed", bound="Serializer[Any]")


class OneRenderer(BaseContentNegotiation):
    """Answers in the endpoint's one media type whatever ``Accept`` says (RFC 9110 section 12.5.1 allows it)."""

    def select_parser(self, request: Request, parsers: Iterable[BaseParser]) -> BaseParser | None:
        """The first parser whose media type the request names."""
        for parser in parsers:
            if (request.content_type or "").partition(";")[0].strip().lower() == parser.media_type:
                return parser
        return None

    def select_renderer(
        self, request: Request, renderers: Iterable[BaseRenderer], format_suffix: str | None = None
    ) -> tuple[BaseRenderer, str]:
        """The endpoint's first renderer."""
        first = next(iter(renderers))
        return first, str(first.media_type)


class Endpoint(APIView):
    """The root of all endpoints. ``scopes`` names the token scope that each method needs."""

    scopes: dict[str, str] = {}
    longest_body = settings.API_BODY_MAX_BYTES
    parser_classes: list[type[BaseParser]] = [JsonBody]
    content_negotiation_class = OneRenderer
    throttle_classes = [Rate]
    http_method_names = ["get", "post", "patch", "head"]

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        """Refuse a body that is too long before anything reads it; then ask who is there."""
        refuse_long_body(request, self.longest_body)
        super().initial(request, *args, **kwargs)

    def finalize_response(self, request: Request, response: Any, *args: Any, **kwargs: Any) -> Any:
        """Nothing that the API answers may be kept by a cache on the way."""
        answer = super().finalize_response(request, response, *args, **kwargs)
        answer.headers.setdefault("Cache-Control", "no-store")
        return answer

    def parsed(self, form: type[Parsed], request: Request) -> dict[str, Any]:
        """The body of ``request`` as ``form`` reads it; raises ValidationError with every fault."""
        return read(form, request.data)

    def asked(self, form: type[Parsed], request: Request) -> dict[str, Any]:
        """The query string of ``request`` as ``form`` reads it; raises ValidationError with every fault."""
        return read(form, request.query_params.dict())


def each(form: type[Serializer[Any]], rows: Iterable[Any]) -> list[Any]:
    """Each row as ``form`` gives it."""
    return [form(row).data for row in rows]


def read(form: type[Parsed], data: Any) -> dict[str, Any]:
    """``data`` as ``form`` reads it; raises ValidationError with every fault."""
    serializer = form(data=data)
    serializer.is_valid(raise_exception=True)
    checked: dict[str, Any] = serializer.validated_data
    return checked


def refuse_long_body(request: Request, most: int) -> None:
    """Raise TooLarge where the request announces a body of more than ``most`` bytes."""
    announced = request.META.get("CONTENT_LENGTH") or "0"
    if announced.isdigit() and int(announced) > most:
        raise too_large(most)
