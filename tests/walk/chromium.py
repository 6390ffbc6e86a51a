"""The walk's second pass: one page of each kind in a real Chromium, 320 px wide. HTTP alone neither runs scripts nor
lays out; one page of each URL name is enough for what this pass looks for.
"""

from collections.abc import Mapping
from urllib.parse import urljoin

from playwright.sync_api import Browser, ConsoleMessage, Page

from tests.walk.crawl import Found
from tests.walk.tour import Account, visitor_of

NARROWEST = 320
WIDTH_OF_PAGE = "document.documentElement.scrollWidth"


def look(browser: Browser, base: str, accounts: Mapping[str, Account], found: Found) -> list[str]:
    """Open one page of each kind as whoever reached it; what the browser complains of, and pages that are too wide."""
    faults: list[str] = []
    by_person: dict[str, list[str]] = {}
    for who, path in found.opened.values():
        by_person.setdefault(who, []).append(path)
    for who, paths in by_person.items():
        page = _page_of(browser, base, who, accounts.get(who), faults)
        for path in sorted(set(paths)):
            _look_at(page, who, urljoin(base, path), faults)
        page.context.close()
    return faults


def _page_of(browser: Browser, base: str, who: str, account: Account | None, faults: list[str]) -> Page:
    context = browser.new_context(viewport={"width": NARROWEST, "height": 640}, locale="en-GB")
    visitor = visitor_of(base, who, account, "en")
    visitor.leave()
    context.add_cookies([{"name": name, "value": value, "url": base} for name, value in visitor.cookies.items()])
    page = context.new_page()

    def said(message: ConsoleMessage) -> None:
        if message.type == "error":
            faults.append(f"{who} {page.url}: the console says {message.text[:200]}")

    page.on("console", said)
    page.on("pageerror", lambda error: faults.append(f"{who} {page.url}: a script failed: {str(error)[:200]}"))
    return page


def _look_at(page: Page, who: str, url: str, faults: list[str]) -> None:
    if _is_file(page, url):
        return
    page.goto(url, wait_until="load")
    width = page.evaluate(WIDTH_OF_PAGE)
    if width > NARROWEST:
        faults.append(f"{who} {url}: {width} px wide in a window of {NARROWEST}")


def _is_file(page: Page, url: str) -> bool:
    """Files, data and parts of pages are no pages to look at."""
    answer = page.context.request.get(url)
    return not (answer.headers.get("content-type", "").startswith("text/html") and "<html" in answer.text()[:2000])
