"""A phone: a real Chromium with a profile of its own that can be killed like one, with a film before its camera."""

import os
import shutil
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

from playwright.sync_api import Browser, BrowserContext, Error, Page, Playwright

Value = TypeVar("Value")
FLAGS = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-extensions", "--mute-audio",
    "--disable-background-networking", "--disable-component-update", "--disable-dev-shm-usage",
    "--use-fake-ui-for-media-stream", "--use-fake-device-for-media-stream", "--remote-debugging-port=0",
    "--autoplay-policy=no-user-gesture-required", "--hide-scrollbars",
)  # fmt: skip
ALL_RECORDS = "Rooftally.work.holder ? Rooftally.store.all(Rooftally.work.holder.member) : []"


class Phone:
    """One profile on disk. ``open`` starts Chromium on it; ``kill`` ends it as a dying battery would."""

    def __init__(self, playwright: Playwright, folder: Path, url: str, film: Path | None = None) -> None:
        self._playwright = playwright
        self._folder = folder
        self.url = url
        self._film = film
        self._process: subprocess.Popen[bytes] | None = None
        self.page: Page

    def open(
        self, *, cookies: dict[str, str] | None = None, size: tuple[int, int] = (390, 844), go: bool = True
    ) -> Page:
        """Start, sign in with these cookies if any, and open the field page."""
        try:
            browser = self._start(size)
        except (Error, AssertionError):  # on a busy machine Chromium may come up without ever answering its driver
            self.kill()
            browser = self._start(size)
        self.context: BrowserContext = browser.contexts[0]
        if cookies:
            self.sign_in(cookies)
        self.page = self.context.pages[0] if self.context.pages else self.context.new_page()
        self.page.set_viewport_size({"width": size[0], "height": size[1]})
        self.load()
        return self.page

    def _start(self, size: tuple[int, int]) -> Browser:
        port_file = self._folder / "DevToolsActivePort"
        port_file.unlink(missing_ok=True)
        film = [f"--use-file-for-fake-video-capture={self._film}"] if self._film else []
        self._process = subprocess.Popen(
            [_chromium(), *FLAGS, *film, f"--user-data-dir={self._folder}", f"--window-size={size[0]},{size[1]}"],
            start_new_session=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        wait_for(lambda: port_file.exists() and port_file.read_text().count("\n") >= 1, "Chromium to start")
        port = port_file.read_text().splitlines()[0]
        return self._playwright.chromium.connect_over_cdp(f"http://127.0.0.1:{port}", timeout=45_000)

    def sign_in(self, cookies: dict[str, str]) -> None:
        """Put these cookies into the browser."""
        self.context.add_cookies([{"name": name, "value": value, "url": self.url} for name, value in cookies.items()])

    def load(self, page: Page | None = None) -> None:
        """Open the field page and wait until it is ready."""
        page = page or self.page
        page.goto(f"{self.url}/field/", wait_until="domcontentloaded")
        wait_for(lambda: page.evaluate("document.body.dataset.ready === 'yes'"), "the page to be ready")

    def choose_site(self) -> None:
        """Choose the first of the day's sites, and wait until the choice is kept and the scan screen shown."""
        wait_for(lambda: self.page.query_selector(".place"), "the day's sites")
        self.page.click(".place")
        wait_for(lambda: self.page.evaluate("location.hash") == "#scan", "the scan screen")

    def see(self, raw: str, symbology: str = "]d2") -> None:
        """What the camera does with a code that it is sure of."""
        self.page.evaluate("([raw, format]) => Rooftally.capture.take([{ raw, format }], 'camera')", [raw, symbology])

    def sign(self) -> None:
        """Draw a line on the pad for signatures."""
        self.page.locator("#pad").scroll_into_view_if_needed()
        box = self.page.locator("#pad").bounding_box()
        assert box is not None
        self.page.mouse.move(box["x"] + 20, box["y"] + 40)
        self.page.mouse.down()
        self.page.mouse.move(box["x"] + 220, box["y"] + 90, steps=8)
        self.page.mouse.up()

    def facts(self, *names: str) -> list[Any]:
        """What the phone knows under these names; None where it knows nothing."""
        found: list[Any] = self.page.evaluate("(names) => Rooftally.store.facts(...names)", names)
        return found

    def result(self) -> tuple[str, str, str]:
        """Tone, large word and text of the answer on the scan screen."""
        text = self.page.text_content
        tone = self.page.get_attribute("#result", "data-tone") or ""
        return tone, (text("#result-word") or "").strip(), (text("#result-text") or "").strip()

    def kept_offline(self) -> None:
        """Wait until the service worker has everything and serves this page."""
        state = "navigator.serviceWorker.getRegistration().then(r => Boolean(r && r.active))"
        wait_for(lambda: self.page.evaluate(state), "the service worker")

    def kill(self) -> None:
        """SIGKILL the browser and everything that it started."""
        if self._process is None:
            return
        os.killpg(self._process.pid, signal.SIGKILL)
        self._process.wait(10)
        self._process = None
        for lock in ("SingletonLock", "SingletonSocket", "SingletonCookie"):
            (self._folder / lock).unlink(missing_ok=True)

    def records(self, page: Page | None = None) -> list[dict[str, Any]]:
        """The records of whoever holds the phone, in their order."""
        found: list[dict[str, Any]] = (page or self.page).evaluate(ALL_RECORDS)
        return found

    def all_answered(self, page: Page | None = None) -> bool:
        """Whether no record waits; if one does, says that the network is back, so that the sender tries at once."""
        if all(record["state"] != "waiting" for record in self.records(page)):
            return True
        self.nudge(page)
        return False

    def nudge(self, page: Page | None = None) -> None:
        """What the browser says when a network appears: one of the sender's triggers."""
        (page or self.page).evaluate("void window.dispatchEvent(new Event('online'))")


def wait_for(look: Callable[[], Value], what: str, *, longest: float = 40, every: float = 0.1) -> Value:
    """Look until the answer is true, and give it back; the page's CSP forbids Playwright's own waiting function."""
    until = time.monotonic() + longest
    while not (value := look()):
        assert time.monotonic() < until, f"waited {longest} s in vain for {what}"
        time.sleep(every)
    return value


def _chromium() -> str:
    found = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    assert found, "no Chromium: make setup installs Debian's"
    return found
