"""A caller of the API with a token of its own."""

import json
from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client

from fleet.models import Member, Scope
from fleet.operations.tokens import issue_token
from tests.factories import make_member


class Caller:
    """Calls the API as one member, by a token."""

    def __init__(self, member: Member, scopes: list[str] | None = None) -> None:
        self.member = member
        self.token, self.secret = issue_token(actor=member, name="tests", scopes=scopes or list(Scope.values))
        self.client = Client(headers={"Authorization": f"Bearer {self.secret}"})

    def get(self, path: str, **query: Any) -> Any:
        return self.client.get(path, query)

    def post(self, path: str, body: Any, **headers: str) -> Any:
        return self.client.post(path, json.dumps(body), "application/json", headers=_named(headers))

    def patch(self, path: str, body: Any) -> Any:
        return self.client.patch(path, json.dumps(body), "application/json")


def _named(headers: dict[str, str]) -> dict[str, str]:
    return {name.replace("_", "-"): value for name, value in headers.items()}


@pytest.fixture
def call() -> Callable[..., Caller]:
    """Makes callers: ``call()`` for a fresh office member, ``call(member, scopes)`` for another."""

    def made(member: Member | None = None, scopes: list[str] | None = None) -> Caller:
        return Caller(member or make_member(), scopes)

    return made


def problem(answer: Any, status: int, code: str) -> dict[str, Any]:
    """The problem document of ``answer``, which must have this status and code."""
    assert answer.status_code == status, answer.content
    assert answer.headers["Content-Type"] == "application/problem+json"
    document: dict[str, Any] = json.loads(answer.content)
    assert (document["status"], document["code"]) == (status, code)
    assert document["detail"]
    assert document["title"]
    return document
