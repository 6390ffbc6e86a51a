"""The owner's way from the mail to My site, as a thumb walks it; used by the tests and by the pictures."""

from collections.abc import Callable

from playwright.sync_api import Page

PASSWORD = "ochre gate seven quails"


def walk(page: Page, link: str, *, look: Callable[[str], object] = lambda _name: None) -> int:
    """Open ``link`` as from the mail and accept with one purpose allowed; returns how many taps it took."""
    taps = 0

    def tap(selector: str) -> None:
        nonlocal taps
        page.locator(selector).first.click()
        taps += 1

    page.goto(link)
    taps += 1  # the link in the mail
    look("owner-1-invitation")
    tap("button[value=continue]")
    look("owner-2-answers")
    tap("label[for=id_monitoring_0]")
    page.locator("#id_password").press_sequentially(PASSWORD)
    look("owner-3-password")
    tap("button[value=accept]")
    page.wait_for_selector("#permissions")
    look("owner-4-my-site")
    return taps
