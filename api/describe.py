"""How an endpoint's method describes itself in the OpenAPI document, with the problems that any of them may answer."""

from collections.abc import Callable
from typing import Any, TypeVar

from django.utils.functional import Promise
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiParameter, extend_schema

from api.documents.problems import Problem
from api.problems import MEDIA_TYPE

Method = TypeVar("Method", bound=Callable[..., Any])
ALWAYS = (400, 401, 403, 413, 415, 429)
IDEMPOTENCY_KEY = OpenApiParameter(
    name="Idempotency-Key",
    location=OpenApiParameter.HEADER,
    type={"type": "string", "minLength": 1, "maxLength": 255, "pattern": "^[ -~]+$"},
    description="Printable ASCII. The same key with the same content gets the first answer again, for a day.",
)
SITE_CODE = OpenApiParameter(
    name="code",
    location=OpenApiParameter.PATH,
    type={"type": "string", "maxLength": 40, "minLength": 1, "pattern": "^[^/]+$"},
    description="The site's code; O for 0, I or L for 1, small letters and no dash are understood.",
)
PUBLIC_ID = OpenApiParameter(name="public_id", location=OpenApiParameter.PATH, type=OpenApiTypes.UUID)


def describe(
    summary: str | Promise,
    *,
    tag: str,
    answers: dict[int, Any],
    problems: tuple[int, ...] = (),
    request: Any = None,
    query: Any = None,
    path: tuple[OpenApiParameter, ...] = (),
    creates: bool = False,
    operation_id: str,
) -> Callable[[Method], Method]:
    """The description of one method. ``creates``: it takes an ``Idempotency-Key`` and may answer 409 and 422."""
    also = (*problems, 409, 422) if creates else problems
    responses: dict[Any, Any] = dict(answers)
    responses |= {(status, MEDIA_TYPE): Problem for status in sorted({*ALWAYS, *also})}
    parameters: list[Any] = [*path, *([query] if query else []), *([IDEMPOTENCY_KEY] if creates else [])]
    return extend_schema(
        operation_id=operation_id, summary=summary, tags=[tag], request=request, responses=responses,
        parameters=parameters,
    )  # fmt: skip
