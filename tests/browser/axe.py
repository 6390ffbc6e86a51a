"""Accessibility by axe-core, which a page's content security policy lets in by ``evaluate`` alone."""

from functools import cache
from typing import Any

from django.conf import settings
from playwright.sync_api import Page

RUN = """() => axe.run(document, {resultTypes: ['violations']}).then(found => found.violations.map(violation => ({
    rule: violation.id, where: violation.nodes.map(node => node.html.slice(0, 160)).slice(0, 3)})))"""


@cache
def _source() -> str:
    return (settings.PROJECT_DIR / "node_modules" / "axe-core" / "axe.min.js").read_text()


def violations(page: Page) -> list[Any]:
    """What axe finds wrong with the page as it is now; empty is good."""
    page.evaluate(_source())
    found: list[Any] = page.evaluate(RUN)
    return found


def overflow(page: Page) -> int:
    """How many pixels the page is wider than its window."""
    wider: int = page.evaluate("() => document.documentElement.scrollWidth - document.documentElement.clientWidth")
    return wider
