"""What hostile or clumsy programs send is refused in words; nothing of it is a fault of ours."""

import json
import os
import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from http.cookies import SimpleCookie
from typing import Any
from uuid import uuid4

import pytest
from django.conf import settings as installed
from django.test import Client
from django.urls import reverse

from fleet.models import Device, Member, Scope, Site
from fleet.operations.tokens import issue_token
from tests.factories import PASSWORD, make_capture, make_member, make_owner, make_site, make_user
from tests.servers.redis import Redis

pytestmark = pytest.mark.django_db
NUL = "\x00"
YEARS = ["0001-01-01T00:00:00+14:00", "0001-01-01T00:00:00+00:00", "9999-12-31T23:59:59-12:00", "9999-12-31T23:59:59Z"]


@pytest.fixture
def member() -> Member:
    return make_member(role="administrator", user=make_user("ana@example.net", password=PASSWORD))


@pytest.fixture
def site(member: Member) -> Site:
    return make_site(member)


@pytest.fixture
def page(member: Member) -> Client:
    client = Client(raise_request_exception=False)
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def program(member: Member) -> Client:
    _token, secret = issue_token(actor=member, name="tests", scopes=list(Scope.values))
    return Client(headers={"Authorization": f"Bearer {secret}"}, raise_request_exception=False)


def problem(answer: Any, *statuses: int) -> dict[str, Any]:
    assert answer.status_code in statuses, (answer.status_code, answer.content[:300])
    document: dict[str, Any] = json.loads(answer.content)
    assert document["detail"]
    return document


# --- JSON -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "body",
    [
        b"[" * 60_000, b"[" * 60_000 + b"]" * 60_000, b'{"a":' * 60_000 + b"1" + b"}" * 60_000,
        b'{"street":' + b"[" * 900 + b"]" * 900 + b"}", b'{"street": "' + b"[" * 40,
        b'{"street": 1e999}', b'{"street": NaN}', b'{"street": ' + b"9" * 5000 + b"}", b'{"street": "\xff"}',
        b"\xfe\xff",
    ],
    ids=["open", "closed", "objects", "within", "unended", "infinite", "NaN", "long", "bytes", "UTF-16"],
)  # fmt: skip
@pytest.mark.parametrize("path", ["/api/v1/sites", "/api/field/records"])
def test_no_json_is_our_fault(program: Client, page: Client, path: str, body: bytes):
    asking = page if path.startswith("/api/field") else program
    assert problem(asking.post(path, body, "application/json"), 400)["code"] == "parse_error"


def test_brackets_in_a_text_are_text(program: Client):
    body = {"street": "Rua [[[[" + "[{" * 30, "town": 'Tavira "\\" [', "country": "PT"}
    assert program.post("/api/v1/sites", json.dumps(body), "application/json").status_code == 201


def test_the_emergency_file_may_be_anything(page: Client):
    from django.core.files.uploadedfile import SimpleUploadedFile

    for content in (b"[" * 60_000, b'{"a":' * 60_000):
        answer = page.post(reverse("fleet:field_import"), {"file": SimpleUploadedFile("a.json", content)})
        assert answer.status_code == 422


@pytest.mark.parametrize("kind", [[], {}, None, 7, "nothing"])
def test_a_field_record_of_any_kind_is_answered(page: Client, member: Member, kind: object):
    record = {"id": str(uuid4()), "kind": kind, "member": str(member.public_id), "content": {}, "made_at": YEARS[0]}
    answer = page.post("/api/field/records", {"records": [record]}, "application/json")
    assert answer.status_code == 200
    assert [one["status"] for one in answer.json()["answers"]] == [422]


# --- years that nobody means ------------------------------------------------------------------------------------------


@pytest.mark.parametrize("when", [*YEARS, "0001-01-01", "+" * 40, "2026-02-30T00:00:00Z", NUL])
def test_no_year_breaks_the_timeline(page: Client, member: Member, site: Site, when: str):
    answer = page.get(reverse("fleet:site", args=[site.code]), {"before": when})
    assert answer.status_code in (200, 400)


@pytest.mark.parametrize("when", ["0001-01-01", "9999-12-31", "0999-01-01", "10000-01-01"])
def test_no_day_breaks_a_form_or_a_list(page: Client, member: Member, site: Site, when: str):
    assert page.get(reverse("fleet:sites"), {"installed_from": when, "installed_until": when}).status_code == 200
    facts = {"street": "Rua", "town": "Faro", "country": "PT", "use": "home", "installed_on": when}
    assert page.post(reverse("onboarding:new_site"), facts).status_code == 422
    answer = page.post(reverse("fleet:assign", args=[site.code]), {"member": str(member.public_id), "until": when})
    assert answer.status_code == 302
    answer = page.post(reverse("fleet:tokens"), {"name": "x", "scopes": [Scope.values[0]], "until": when})
    assert answer.status_code in (200, 422)
    assert page.get(reverse("fleet:site", args=[site.code])).status_code == 200


@pytest.mark.parametrize("when", YEARS)
def test_no_moment_breaks_the_api(program: Client, page: Client, site: Site, when: str):
    scan = {
        "id": str(uuid4()), "site": site.code, "raw": "010952012345678821SN000001", "format": "]d2",
        "scanned_at": when, "seq": 1, "installation": str(uuid4()), "source": "api",
    }  # fmt: skip
    problem(program.post("/api/v1/scans", json.dumps(scan), "application/json"), 422)
    body = json.dumps({"installed_on": when[:10]})
    answer = program.patch(f"/api/v1/sites/{site.code}", body, "application/json", headers={"If-Match": "*"})
    problem(answer, 412, 422, 428)
    assert not Device.objects.exists()
    assert page.get(reverse("fleet:site", args=[site.code])).status_code == 200


# --- NUL --------------------------------------------------------------------------------------------------------------


def test_nul_in_an_address_or_a_query_is_refused_in_words(page: Client, program: Client, site: Site):
    asked = [
        f"/sites/?q=a{NUL}b", "/sites/?q=%00", f"/sites/{NUL}/", "/sites/%00/", "/s/%00", "/welcome/%00", "/join/%00",
        "/devices/?q=%00", "/accounts/login/?next=%00", "/search?q=%00", "/company/?%00=1", "/invitations?show=%00",
    ]  # fmt: skip
    for path in asked:
        answer = page.get(path.replace(NUL, "%00"))
        assert answer.status_code in (400, 404), (path, answer.status_code)
    for path in ("/api/v1/sites?q=%00", "/api/v1/sites/%00", "/api/v1/devices?serial=%00", "/api/v1/scans/%00"):
        problem(program.get(path), 400, 404, 422)


def test_nul_in_any_field_of_a_form_is_refused_in_words(page: Client, member: Member, site: Site):
    owner = make_owner(member, site)
    forms: dict[str, list[str]] = {
        reverse("onboarding:new_site"): ["street", "town", "note", "country"],
        reverse("fleet:record_check", args=[site.code]): ["title", "finding", "note"],
        reverse("fleet:tag_site", args=[site.code]): ["tags"],
        reverse("fleet:assign", args=[site.code]): ["member", "until"],
        reverse("fleet:scan", args=[site.code]): ["text", "record"],
        reverse("fleet:tokens"): ["name", "scopes"],
        f"/sites/{site.code}/owners/{owner.public_id}/consents": ["purpose", "reference"],
        "/accounts/login/": ["login", "password"],
        "/accounts/password/reset/": ["email"],
    }
    for path, names in forms.items():
        for name in names:
            answer = (Client(raise_request_exception=False) if "accounts" in path else page).post(
                path, {name: f"a{NUL}b"}
            )
            assert answer.status_code in (400, 422, 404), (path, name, answer.status_code)


def test_nul_in_a_cookie_or_header_is_no_fault_of_ours(program: Client, member: Member, settings):
    settings.BEHIND_PROXY = True
    client = Client(raise_request_exception=False)
    client.cookies = SimpleCookie()
    client.cookies[installed.SESSION_COOKIE_NAME] = f"a{NUL}b"
    assert client.get("/accounts/login/").status_code in (200, 400)
    for header in ("X-Forwarded-For", "Accept-Language", "Idempotency-Key", "If-Match", "Authorization", "User-Agent"):
        answer = program.get("/api/v1/sites", headers={header: f"a{NUL}b"})
        assert answer.status_code < 500, header
        answer = client.post(
            "/accounts/login/", {"login": "a@example.net", "password": "b"}, headers={header: f"a{NUL}b"}
        )
        assert answer.status_code < 500, header


def test_nul_in_the_api_is_refused_and_in_a_label_it_is_read(program: Client, page: Client, member: Member, site: Site):
    body = {"street": f"Rua{NUL}", "town": "Faro", "country": "PT"}
    problem(program.post("/api/v1/sites", json.dumps(body), "application/json"), 422)
    problem(program.post("/api/v1/sites", json.dumps({f"a{NUL}": 1}), "application/json"), 422)
    for raw, more in (
        (f"SN{NUL}1", []),
        ("SN1234567", [[f"SN{NUL}", f"]{NUL}"]]),
        ("SN\ud800", [["\udfff", "\udc00"]]),
    ):
        content = {"raw": raw, "format": "", "source": "camera", "more": more, "position": NUL, NUL: NUL}
        record = {
            "id": str(uuid4()), "kind": "scan", "seq": 1, "member": str(member.public_id), "site": site.code,
            "made_at": datetime.now(UTC).isoformat(), "installation": str(uuid4()), "content": content,
        }  # fmt: skip
        answer = page.post("/api/field/records", json.dumps({"records": [record]}), "application/json")
        assert [one["status"] for one in answer.json()["answers"]] == [201], answer.content


# --- Redis at its memory limit ----------------------------------------------------------------------------------------


@pytest.fixture
def full_redis(settings) -> Iterator[Redis]:
    """A Redis that takes nothing any more, as the cache of limits."""
    import redis as client

    from fleet.shared_cache import SharedCacheClient

    server = Redis()
    client.Redis.from_url(server.url()).config_set("maxmemory", "1")
    settings.CACHES = {"default": {"BACKEND": "fleet.shared_cache.SharedCache", "LOCATION": server.url()}}
    SharedCacheClient.away_until = 0.0
    yield server
    SharedCacheClient.away_until = 0.0
    server.stop()


def test_with_redis_at_its_limit_people_and_programs_go_on(full_redis: Redis, program: Client, member: Member):
    from fleet.shared_cache import SharedCacheClient

    client = Client(raise_request_exception=False)
    for path, form in (
        ("/accounts/login/", {"login": "ana@example.net", "password": "not this one at all"}),
        ("/accounts/password/reset/", {"email": "ana@example.net"}),
        ("/accounts/login/", {"login": "ana@example.net", "password": PASSWORD}),
    ):
        SharedCacheClient.away_until = 0.0
        assert client.post(path, form).status_code in (200, 302), path
    assert client.get("/").status_code == 200
    SharedCacheClient.away_until = 0.0
    assert program.get("/api/v1/sites").status_code == 200


def test_limits_forgive_every_refusal_of_redis(full_redis: Redis):
    from fleet.shared_cache import SharedCacheClient
    from onboarding.limits import within

    for _try in range(5):
        SharedCacheClient.away_until = 0.0
        assert within("faults", "somebody", most=1, seconds=60)


def test_wake_ups_of_the_schedule_do_not_pile_up():
    for name, entry in installed.CELERY_BEAT_SCHEDULE.items():
        options: Any = entry.get("options", {})
        assert 0 < options.get("expires", 0) <= float(str(entry["schedule"])), name


def test_limits_may_be_counted_apart_from_jobs():
    import subprocess
    import sys

    show = "from django.conf import settings as s; print(s.CACHES['default']['LOCATION'], s.CELERY_BROKER_URL)"
    kept = {name: value for name, value in os.environ.items() if not name.startswith("ROOFTALLY_")}
    apart = {"ROOFTALLY_REDIS_URL": "redis://jobs:6379/0", "ROOFTALLY_CACHE_URL": "redis://counts:6379/0"}
    environment = (
        kept
        | apart
        | {"ROOFTALLY_DATA_DIR": str(installed.DATA_DIR), "DJANGO_SETTINGS_MODULE": "fleet.config.settings"}
    )
    printed = subprocess.run([sys.executable, "-c", show], env=environment, capture_output=True, text=True, check=False)
    assert printed.stdout.split() == ["redis://counts:6379/0", "redis://jobs:6379/0"], printed.stderr


# --- the first calls of the API's description -------------------------------------------------------------------------


def test_the_first_calls_of_the_schema_at_once_are_all_answered():
    from api import openapi

    for _round in range(3):
        openapi._made.cache_clear()
        gate = threading.Barrier(8)
        told: list[Any] = []

        def ask(gate: threading.Barrier = gate, told: list[Any] = told) -> None:
            gate.wait()
            try:
                told.append(len(openapi.schema_document()["paths"]))
            except BaseException as error:  # told to the test's own thread
                told.append(error)

        threads = [threading.Thread(target=ask) for _ in range(8)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join(120)
        assert len(told) == 8
        assert len(set(map(str, told))) == 1, told
        assert isinstance(told[0], int)


def test_a_capture_of_a_clumsy_clock_does_not_break_the_page(page: Client, member: Member, site: Site):
    from fleet.operations.scans import record_scan

    record_scan(actor=member, capture=make_capture(site, scanned_at=datetime(1971, 1, 1, tzinfo=UTC)))
    assert page.get(reverse("fleet:site", args=[site.code])).status_code == 200
