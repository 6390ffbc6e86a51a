"""The API's own description: the OpenAPI document, and the same as a page."""

import json
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from api.endpoint import Endpoint
from api.openapi import schema_document

METHODS = ("get", "post", "patch", "put", "delete")


class OpenApiJson(JSONRenderer):
    """JSON under the media type registered for OpenAPI documents."""

    media_type = "application/vnd.oai.openapi+json"


class Schema(Endpoint):
    """The OpenAPI 3.1 document; it holds no data of anybody, so anyone may read it."""

    authentication_classes = []
    permission_classes = []
    renderer_classes = [OpenApiJson]
    schema = None

    def get(self, request: Request) -> Response:
        """The document."""
        return Response(schema_document(), headers={"Cache-Control": "public, max-age=300", "Vary": "Accept-Language"})


@require_safe
def reference(request: HttpRequest) -> HttpResponse:
    """The same document as a readable page."""
    document = schema_document()
    tags: dict[str, list[dict[str, Any]]] = {}
    for path, item in document["paths"].items():
        for method in METHODS:
            if method in item:
                described = _described(path, method, item[method], document)
                tags.setdefault(item[method]["tags"][0], []).append(described)
    shapes = [(name, _rows(schema), _choices(schema)) for name, schema in document["components"]["schemas"].items()]
    told = [(name, rows, choices) for name, rows, choices in shapes if rows or choices]
    return render(request, "api/reference.html", {"tags": tags, "shapes": told})


def _described(path: str, method: str, operation: dict[str, Any], document: dict[str, Any]) -> dict[str, Any]:
    bodies = operation.get("requestBody", {}).get("content", {})
    return {
        "path": path,
        "method": method.upper(),
        "anchor": operation["operationId"],
        "summary": operation.get("summary", ""),
        "parameters": operation.get("parameters", []),
        "bodies": [(media, _shape_name(content.get("schema", {}))) for media, content in bodies.items()],
        "answers": [
            (status, media, _shape_name(content.get("schema", {})))
            for status, answer in sorted(operation["responses"].items())
            for media, content in answer.get("content", {}).items()
        ],
    }


def _rows(schema: dict[str, Any]) -> list[dict[str, Any]]:
    required = set(schema.get("required", []))
    return [
        {
            "name": name,
            "kind": _kind(about),
            "required": name in required,
            "about": about.get("description", ""),
        }
        for name, about in schema.get("properties", {}).items()
    ]


def _choices(schema: dict[str, Any]) -> list[str]:
    """The shapes of which it is one."""
    return [_shape_name(inner) for inner in (*schema.get("oneOf", []), *schema.get("anyOf", [])) if _shape_name(inner)]


def _kind(schema: dict[str, Any]) -> str:
    if name := _shape_name(schema):
        return name
    kind = schema.get("type", "")
    if kind == "array":
        return f"[{_kind(schema['items'])}]"
    words = " | ".join(kind) if isinstance(kind, list) else str(kind)
    extra = schema.get("format") or ", ".join(json.dumps(value) for value in schema.get("enum", []))
    return f"{words} ({extra})" if extra else words


def _shape_name(schema: dict[str, Any]) -> str:
    for inner in (schema, *schema.get("allOf", []), *schema.get("oneOf", []), *schema.get("anyOf", [])):
        if "$ref" in inner:
            return str(inner["$ref"]).rsplit("/", 1)[-1]
    return ""
