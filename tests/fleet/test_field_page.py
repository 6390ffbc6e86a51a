"""The field page's shell: the same for everybody, complete, small enough to keep, and true to its parts."""

import gzip
import hashlib
import json
import re
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.management import call_command
from django.test import Client

from fleet import field_page
from fleet.field_page import WASM, WASM_SHA256, file_content, kept_files, page_version
from fleet.labels.families import FAMILIES
from fleet.views.field_words import words
from tests import rows

SOURCES = settings.PROJECT_DIR / "fleet" / "static" / "fleet" / "field"
MOST_KEPT = 450_000
"""Bytes with gzip, all files together: issue of the field page; a limit of our own."""


def _kept(client: Client) -> dict[str, object]:
    worker = client.get("/field/sw.js").content.decode()
    found = re.search(r"^const KEPT = (.*);$", worker, re.MULTILINE)
    assert found
    kept: dict[str, object] = json.loads(found[1])
    return kept


@pytest.mark.django_db
def test_the_shell_is_the_same_signed_in_or_not(client: Client):
    stranger = client.get("/field/").content
    member = rows.make_member()
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    assert client.get("/field/").content == stranger
    assert b"csrf" not in stranger.lower()


def test_only_the_shell_and_the_decoder_may_compile_wasm(client: Client):
    for path in ("/field/", "/field/decoder.js"):
        assert "'wasm-unsafe-eval'" in client.get(path).headers["Content-Security-Policy"]
    shell = client.get("/field/")
    assert "'unsafe-inline'" not in shell.headers["Content-Security-Policy"]
    assert "wasm-unsafe-eval" not in client.get("/api/v1/").headers["Content-Security-Policy"]


def test_the_shell_has_no_inline_script_and_no_foreign_address(client: Client):
    shell = client.get("/field/").content.decode()
    scripts = re.findall(r"<script(?![^>]*(?:src=|application/json))", shell)
    assert scripts == []
    assert " style=" not in shell
    addresses = re.findall(r"(?:src|href)=\"([^\"#]+)\"", shell)
    assert [address for address in addresses if not address.startswith("/")] == []


def test_everything_that_the_shell_loads_is_kept(client: Client):
    shell = client.get("/field/").content.decode()
    loaded = set(re.findall(r"<script src=\"([^\"]+)\"", shell) + re.findall(r"stylesheet\" href=\"([^\"]+)\"", shell))
    kept = _kept(client)
    assert loaded <= set(kept["files"])  # type: ignore[call-overload]
    facts = json.loads(re.search(r"id=\"facts\"[^>]*>(.*?)</script>", shell)[1])  # type: ignore[index]
    assert {facts["decoder"], *facts["decoder_parts"]} <= set(kept["files"])  # type: ignore[call-overload]
    assert facts["refused_starts"] == FAMILIES


def test_the_worker_changes_with_any_file(client: Client, monkeypatch):
    before = _kept(client)["version"]
    page_version.cache_clear()
    monkeypatch.setattr(field_page, "file_content", lambda name: file_content(name) + b" ")
    assert _kept(client)["version"] != before
    page_version.cache_clear()


def test_the_decoder_is_the_pinned_one():
    assert hashlib.sha256(file_content(WASM)).hexdigest() == WASM_SHA256


def test_what_a_phone_keeps_is_small(client: Client):
    files = [file_content(name) for name in kept_files()]
    assert all(files)
    pages = [client.get(path).content for path in ("/field/", "/field/page.js", "/field/decoder.js")]
    assert sum(len(gzip.compress(content, 9)) for content in (*files, *pages)) <= MOST_KEPT


def test_every_word_that_a_script_says_is_there():
    known = set(words())
    said = set()
    for path in SOURCES.glob("*.js"):
        source = path.read_text(encoding="utf-8")
        said |= set(re.findall(r"\bsay\(\"([a-z_]+)\"", source))
    assert said
    assert said - known == set()
    dynamic = tuple("kind_ finding_ fate_ purpose_ state_ why_ post_ line_ say_ consent_ camera_".split())
    sources = "".join(path.read_text(encoding="utf-8") for path in SOURCES.glob("*.js"))
    unused = [key for key in known - said if not key.startswith(dynamic) and f'"{key}"' not in sources]
    assert set(unused) <= {"app_name", "app_short_name"}


def test_the_manifest_opens_the_field_page(client: Client):
    document = client.get("/field/manifest.webmanifest").json()
    assert (document["start_url"], document["scope"], document["display"]) == ("/field/", "/field/", "standalone")


@pytest.fixture
def released(settings: Any, tmp_path: Path) -> Path:
    """Static files as a release collects and names them, beside one that an older release left there."""
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "whitenoise.storage.CompressedManifestStaticFilesStorage"},
    }
    settings.STATIC_ROOT = tmp_path

    (tmp_path / "fleet" / "field").mkdir(parents=True)
    (tmp_path / "fleet" / "field" / "field.0123456789ab.css").write_text("/* an older release's */")
    call_command("collectstatic", interactive=False, verbosity=0)
    return tmp_path


@pytest.mark.slow
def test_a_released_page_keeps_hashed_files_of_our_own_origin(released: Path, client: Client):
    files = [address for address in _kept(client)["files"] if address.startswith("/static/")]  # type: ignore[attr-defined]
    assert len(files) == len(kept_files())
    for address in files:
        assert re.search(r"\.[0-9a-f]{12}\.\w+$", address), address
        answer = client.get(address)
        assert answer.status_code == 200, address
        assert "immutable" in answer.headers["Cache-Control"]
    (wasm,) = [address for address in files if address.endswith(".wasm")]
    assert hashlib.sha256(b"".join(client.get(wasm).streaming_content)).hexdigest() == WASM_SHA256  # type: ignore[attr-defined]


@pytest.mark.slow
def test_hashed_files_of_an_older_release_stay_reachable(released: Path, client: Client):
    answer = client.get("/static/fleet/field/field.0123456789ab.css")
    assert answer.status_code == 200
    assert b"".join(answer.streaming_content) == b"/* an older release's */"  # type: ignore[attr-defined]


def test_what_npm_installs_is_locked_without_addresses():
    lock = json.loads((settings.PROJECT_DIR / "package-lock.json").read_text(encoding="utf-8"))
    packages = {name: entry for name, entry in lock["packages"].items() if name}
    assert {"node_modules/zxing-wasm", "node_modules/idb", "node_modules/htmx.org"} <= set(packages)
    assert [name for name, entry in packages.items() if "resolved" in entry or "integrity" not in entry] == []
