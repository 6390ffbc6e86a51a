"""The field page as a technician sees it on a phone of 390x844: scanning with no internet, then what became of it."""

import tempfile
import time
from pathlib import Path

from playwright.sync_api import Page, Playwright

from tests.browser.field.film import labels, shoot
from tests.browser.field.phone import Phone, wait_for

PHONE = (390, 844)
WITH_OWNER = "Rooftally.work.sites().filter((site) => site.owners.length && site.checks.length)[{}].code"


class FieldWalk:
    """Takes the pictures of one colour scheme, on a phone of its own with labels before its camera."""

    def __init__(self, playwright: Playwright, base: str, sign_in: tuple[str, str], scheme: str, out: Path) -> None:
        self._playwright, self._base, self._sign_in, self._scheme, self._out = playwright, base, sign_in, scheme, out
        self.taken = 0

    def everything(self) -> None:
        """Sign in, scan, record, and look at what came of it."""
        with tempfile.TemporaryDirectory() as folder:
            shown = labels(3, first=int(time.time()) % 900_000)  # new ones, however often the pictures are taken
            film = shoot(Path(folder) / "film.mjpeg", shown, frames=60)
            phone = Phone(self._playwright, Path(folder), self._base, film)
            try:
                self._begin(phone)
                self._without_internet(phone)
                self._with_internet(phone)
            finally:
                phone.kill()

    def _begin(self, phone: Phone) -> None:
        page = phone.open(size=PHONE)
        page.emulate_media(color_scheme="dark" if self._scheme == "dark" else "light")
        self._take(page, "signed-out")
        page.goto(f"{self._base}/accounts/login/?next=/field/")
        page.fill("[name=login]", self._sign_in[0])
        page.fill("[name=password]", self._sign_in[1])
        page.press("[name=password]", "Enter")
        wait_for(lambda: page.query_selector(".place"), "the day's sites")
        phone.kept_offline()
        self._take(page, "sites")

    def _without_internet(self, phone: Phone) -> None:
        page = phone.page
        self._arrive(page, 0)
        phone.context.set_offline(True)
        page.click("#camera-switch")
        wait_for(lambda: len(phone.records()) >= 2, "two scans")
        wait_for(lambda: "waiting" in page.inner_text("#post-words"), "the page to count them")
        self._take(page, "scanning")
        wait_for(lambda: len(phone.records()) >= 3, "three scans")
        page.click("#camera-switch")
        page.click("#type-open")
        page.fill("#typed", "SVR-4471-0098")
        page.press("#typed", "Enter")
        wait_for(lambda: len(phone.records()) >= 4, "the typed label")
        self._take(page, "typed")
        phone.see("010952012345678921SN000006")  # a wrong check digit
        self._show(page, "checks")
        page.click("#check-list button >> nth=0")
        self._take(page, "checks")
        self._show(page, "permissions")
        self._take(page, "consent")
        page.check("input[name=say_contact][value=given]")
        page.check("input[name=how][value=signature]")
        phone.sign()
        self._take(page, "signature")
        page.click("#permission-form button[type=submit]")
        self._show(page, "fates")
        self._take(page, "waiting")

    def _with_internet(self, phone: Phone) -> None:
        page = phone.page
        first = phone.records()[0]["content"]
        self._arrive(page, 1)
        phone.see(first["raw"], first["format"])  # the same device at another site
        phone.context.set_offline(False)
        wait_for(phone.all_answered, "all to be answered", every=0.5)
        self._show(page, "fates")
        self._take(page, "records")
        page.locator("#fate-list").evaluate("(list) => list.lastElementChild.scrollIntoView({ block: 'end' })")
        self._take(page, "records-below")

    def _arrive(self, page: Page, which: int) -> None:
        page.evaluate(f"Rooftally.work.go({WITH_OWNER.format(which)})")
        self._show(page, "scan")

    def _show(self, page: Page, screen: str) -> None:
        page.evaluate(f"location.hash = '#{screen}'")
        wait_for(lambda: page.is_visible(f"#screen-{screen}"), screen)

    def _take(self, page: Page, name: str) -> None:
        time.sleep(0.4)  # for what still moves
        page.screenshot(path=self._out / f"field-{name}-{PHONE[0]}-{self._scheme}.png")
        self.taken += 1
