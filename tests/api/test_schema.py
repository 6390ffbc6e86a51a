"""The OpenAPI document is true: what it says is taken is taken, what it says is answered is answered, nothing fails."""

import re

import pytest
import schemathesis
from django.core.handlers.wsgi import WSGIHandler
from django.core.signals import request_finished, request_started
from django.db import close_old_connections
from django.test import Client
from hypothesis import HealthCheck, Phase, given
from hypothesis import settings as examples
from jsonschema import Draft202012Validator  # type: ignore[import-untyped]  # ships no types
from schemathesis import GenerationMode
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi import checks as openapi_checks

from api.openapi import schema_document
from fleet.operations.scans import record_scan
from tests.factories import make_capture, make_site

CHECKS = [
    not_a_server_error,
    openapi_checks.status_code_conformance,
    openapi_checks.content_type_conformance,
    openapi_checks.response_schema_conformance,
    openapi_checks.response_headers_conformance,
]
LOADED = schemathesis.openapi.from_dict(schema_document())
LOADED.app = WSGIHandler()
EXAMPLES = examples(
    max_examples=8, derandomize=True, deadline=None, database=None, phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)  # fmt: skip
OPERATIONS = sorted((path, method) for path, item in schema_document()["paths"].items() for method in item)


@pytest.fixture
def _kept_connection():
    """The WSGI handler closes its database connection after a request; here all requests share the test's own."""
    for signal in (request_started, request_finished):
        signal.disconnect(close_old_connections)
    yield
    for signal in (request_started, request_finished):
        signal.connect(close_old_connections)


@pytest.fixture
def caller(call, _kept_connection):
    """A caller with something to find."""
    caller = call()
    for _ in range(2):
        record_scan(actor=caller.member, capture=make_capture(make_site(caller.member)))
    return caller


@pytest.mark.django_db
@pytest.mark.slow
@pytest.mark.once
@pytest.mark.parametrize(("path", "method"), OPERATIONS)
def test_an_operation_answers_as_the_document_says(path, method, caller, settings):
    settings.API_REQUESTS_PER_MINUTE = 0
    headers = {"Authorization": f"Bearer {caller.secret}"}
    statuses = set()

    @given(case=LOADED[path][method.upper()].as_strategy(generation_mode=GenerationMode.POSITIVE))
    @EXAMPLES
    def positive(case):
        statuses.add(case.call_and_validate(headers=headers, checks=CHECKS).status_code)

    @given(case=LOADED[path][method.upper()].as_strategy(generation_mode=GenerationMode.NEGATIVE))
    @EXAMPLES
    def negative(case):
        case.call_and_validate(headers=headers, checks=CHECKS)

    positive()
    negative()
    for_administrators = {403} if path == "/api/v1/catalogue/makers" else set()  # the caller is of the office
    assert statuses <= {200, 201, 404, 409, 422} | for_administrators


@pytest.mark.django_db
def test_the_document_is_served_as_openapi_3_1(client: Client):
    answer = client.get("/api/v1/schema")
    assert answer.headers["Content-Type"] == "application/vnd.oai.openapi+json"
    document = answer.json()
    assert document["openapi"] == "3.1.0"
    for shape in document["components"]["schemas"].values():
        Draft202012Validator.check_schema(shape)


def test_the_document_names_every_address_of_version_1():
    from api.urls import urlpatterns

    named = {path.removeprefix("/api/") for path in schema_document()["paths"]}
    routed = {
        str(pattern.pattern).replace("<str:code>", "{code}").replace("<uuid:public_id>", "{public_id}")
        for pattern in urlpatterns
    }
    assert named == {route for route in routed if route.startswith("v1/")} - {"v1/", "v1/schema"}


@pytest.mark.django_db
def test_the_page_shows_every_operation(client: Client):
    page = client.get("/api/v1/").content.decode()
    for path, item in schema_document()["paths"].items():
        assert path in page
        for method in item:
            assert item[method]["operationId"] in page
    assert "<script" not in page
    assert "style=" not in page


@pytest.mark.django_db
def test_every_shape_that_the_page_names_is_described_there(client: Client):
    page = client.get("/api/v1/").content.decode()
    led_to = set(re.findall(r'href="#([^"]+)"', page))
    assert {"shape-ScanOrBatchRequest", "shape-ScanOrBatchAnswer"} <= led_to
    assert led_to <= set(re.findall(r'id="([^"]+)"', page))
