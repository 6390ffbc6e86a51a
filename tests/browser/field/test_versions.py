"""A newer page: kept whole or not at all, never between two scans, and at once where the old one may not send."""

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Error

from tests.browser.field.phone import Phone, wait_for
from tests.browser.field.proxy import Network

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
LABEL = "010952012345678821SN000001"
UPDATE = "navigator.serviceWorker.getRegistration().then((kept) => kept.update()).catch(() => {})"
EDITION = "document.body.dataset.ready === 'yes' && (document.body.dataset.edition || 'first')"


def second_edition(*changes: tuple[bytes, bytes]) -> Callable[[str, bytes], bytes]:
    """What the server serves after a release: another worker, and a shell that can be told from the first."""

    def rewritten(path: str, body: bytes) -> bytes:
        if path == "/field/sw.js":
            return re.sub(rb'"version": "\w+"', b'"version": "second"', body)
        if path == "/field/":
            body = body.replace(b"<body>", b'<body data-edition="second">')
        for was, becomes in changes:
            body = body.replace(was, becomes)
        return body

    return rewritten


def _edition(phone: Phone) -> str:
    """Which page is open and ready; nothing while one gives way to another."""
    try:
        return str(phone.page.evaluate(EDITION) or "")
    except Error:
        return ""


def _caches(phone: Phone) -> list[str]:
    names: list[str] = phone.page.evaluate("caches.keys()")
    return names


def test_a_new_version_asks_and_waits_for_the_queue(at_site: Phone, network: Network):
    page = at_site.page
    network.refuse = lambda path, _body: 503 if path.endswith("/records") else 0
    at_site.see(LABEL)
    network.rewrite = second_edition()
    page.evaluate(UPDATE)
    wait_for(lambda: page.is_visible("#new-version"), "the page to ask")
    assert _edition(at_site) == "first"
    page.click("#new-version button")
    wait_for(lambda: "when everything has been sent" in page.inner_text("#new-version"), "the page to say so")
    at_site.load()
    assert _edition(at_site) == "first"  # not even by opening it again
    wait_for(lambda: page.is_visible("#new-version"), "the page to ask again")
    page.click("#new-version button")
    network.refuse = lambda _path, _body: 0
    at_site.nudge()
    wait_for(lambda: _edition(at_site) == "second", "the new page")
    assert [record["state"] for record in at_site.records()] == ["linked"]
    wait_for(lambda: _caches(at_site) == ["rooftally-field-second"], "the old files to go")


def test_a_version_that_arrives_in_part_is_not_kept(at_site: Phone, network: Network):
    before = _caches(at_site)
    network.rewrite = second_edition()
    missed: list[str] = []

    def keep_back(path: str, _body: bytes) -> int:
        if not path.startswith("/field/decoder.js"):
            return 0
        missed.append(path)
        return 500

    network.refuse = keep_back
    at_site.page.evaluate(UPDATE)
    wait_for(lambda: missed, "the worker to ask for every file")
    wait_for(lambda: _caches(at_site) == before, "the half-kept version to go")
    network.mode = "down"
    at_site.load()
    assert _edition(at_site) == "first"


def test_a_page_that_is_too_old_keeps_everything_and_fetches_the_newer_one(at_site: Phone, network: Network):
    network.mode = "down"
    at_site.see(LABEL)
    (before,) = at_site.records()
    network.rewrite = second_edition((b'"oldest_schema":1', b'"oldest_schema":2'), (b'"schema": 1', b'"schema": 2'))
    network.mode = "good"
    at_site.nudge()
    wait_for(lambda: _edition(at_site) == "second", "the newer page")
    wait_for(lambda: at_site.records() and at_site.all_answered(), "the record to arrive")
    (after,) = at_site.records()
    assert (after["id"], after["schema"], after["state"]) == (before["id"], 1, "linked")


def test_an_old_page_without_a_newer_one_keeps_what_it_has(at_site: Phone, network: Network):
    network.mode = "down"
    at_site.see(LABEL)
    network.rewrite = lambda _path, body: body.replace(b'"oldest_schema":1', b'"oldest_schema":2')
    network.mode = "good"
    at_site.nudge()
    wait_for(lambda: "too old to send" in (at_site.page.text_content("#post-detail") or ""), "the page to say so")
    assert [record["state"] for record in at_site.records()] == ["waiting"]
