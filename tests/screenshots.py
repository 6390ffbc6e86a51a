"""Pictures of the demo's pages at 390 and 1280 pixels, light and dark: ``make screenshots`` leaves them in
``var/screenshots``. Exits 1 when a page does not answer 200 or the browser complains.
"""

import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlsplit

from playwright.sync_api import Browser, Page, sync_playwright

from tests.field_pictures import FieldWalk

ROOT = Path(__file__).resolve().parent.parent
OUT = ROOT / "var" / "screenshots"
WIDTHS = (390, 1280)
SCHEMES = ("light", "dark")
TALLEST = 2600
STAFF_PAGES = {
    "today": "/", "sites": "/sites/", "found": "/sites/?q=alvor", "new-site": "/sites/new",
    "invitations": "/invitations/",
    "members": "/members/", "tokens": "/tokens/", "policy": "/company/policy", "catalogue": "/company/catalogue",
    "mailbox": "/mailbox/", "api": "/api/v1/", "sessions": "/accounts/sessions/",
}  # fmt: skip
SITE_PAGES = {"site": "", "edit-site": "edit", "scan": "scan", "new-owner": "owners/new", "plate": "plate"}
OPEN_PAGES = {"sign-in": "/accounts/login/", "forgotten": "/accounts/password/reset/", "letter": "/letter"}


@dataclass(frozen=True)
class Demo:
    """A running demo: its address and its sign-ins by what they are."""

    base: str
    sign_ins: dict[str, tuple[str, str]]


def read_start(lines: list[str]) -> Demo:
    """What the demo printed about itself."""
    text = "\n".join(lines)
    base = re.search(r"^Open (\S+) and sign in", text, re.MULTILINE)
    people = re.findall(r"^  .+ \(([^)]+)\)\s+(\S+@\S+)\s+(\S+)$", text, re.MULTILINE)
    if base is None or not people:
        raise SystemExit(f"The demo did not start:\n{text}")
    return Demo(base.group(1), {who: (email, password) for who, email, password in people})


class Walk:
    """Takes the pictures of one width and colour scheme."""

    def __init__(self, browser: Browser, demo: Demo, width: int, scheme: str) -> None:
        self._browser, self._demo, self._width, self._scheme = browser, demo, width, scheme
        self.faults: list[str] = []
        self.taken = 0

    def everything(self) -> None:
        """Every page as those who may see it."""
        nobody = self._page()
        for name, path in OPEN_PAGES.items():
            self._take(nobody, name, path)
        staff = self._page("administrator")
        for name, path in STAFF_PAGES.items():
            self._take(staff, name, path)
        staff.goto(f"{self._demo.base}/sites/")
        site = staff.locator('main a[href^="/sites/"]:not([href="/sites/new"])').nth(3).get_attribute("href")
        for name, path in SITE_PAGES.items():
            self._take(staff, name, f"{site}{path}")
        owner = self._page("owner")
        self._take(owner, "my-site", "/mine/")  # an owner of one site is led to it
        self._take(owner, "receipts", f"{urlsplit(owner.url).path}receipts/")

    def _page(self, who: str = "") -> Page:
        context = self._browser.new_context(
            viewport={"width": self._width, "height": 844 if self._width < 800 else 900},
            color_scheme="dark" if self._scheme == "dark" else "light",
            locale="en-GB",
        )
        page = context.new_page()
        page.on("console", lambda message: self._complain(page, message.type, message.text))
        if who:
            email, password = self._demo.sign_ins[who]
            page.goto(f"{self._demo.base}/accounts/login/")
            page.fill("[name=login]", email)
            page.fill("[name=password]", password)
            page.press("[name=password]", "Enter")
            page.wait_for_url(lambda url: "/login" not in url)
        return page

    def _take(self, page: Page, name: str, path: str) -> None:
        answer = page.goto(f"{self._demo.base}{path}", wait_until="networkidle")
        if answer is None or answer.status != 200:
            self.faults.append(f"{path} answered {answer.status if answer else 'nothing'}")
            return
        wider = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
        if wider > 0:
            self.faults.append(f"{path} is {wider} px wider than {self._width}")
        tall = min(int(page.evaluate("document.documentElement.scrollHeight")), TALLEST)
        clip = {"x": 0, "y": 0, "width": self._width, "height": tall}
        page.screenshot(path=OUT / f"{name}-{self._width}-{self._scheme}.png", full_page=True, clip=clip)  # type: ignore[arg-type]  # a plain mapping will do
        self.taken += 1

    def _complain(self, page: Page, kind: str, text: str) -> None:
        if kind == "error":
            self.faults.append(f"{page.url}: {text}")


def start_demo() -> tuple[subprocess.Popen[str], Demo]:
    """The demo as ``make demo`` starts it, once it has told its address and sign-ins."""
    environment = {"ROOFTALLY_DATA_DIR": str(ROOT / "var" / "demo")} | os.environ
    process = subprocess.Popen(
        [sys.executable, "manage.py", "demo"], cwd=ROOT, env=environment, stdout=subprocess.PIPE, text=True
    )
    lines: list[str] = []
    assert process.stdout is not None
    for line in process.stdout:
        print(line, end="", flush=True)
        lines.append(line.rstrip("\n"))
        if line.startswith("Mailbox:"):
            break
    return process, read_start(lines)


def main() -> int:
    """Start the demo, walk through it, stop it; answers the exit status."""
    chromium = shutil.which("chromium")
    if chromium is None:
        print("Chromium is not installed; `make setup` installs it where it may.")
        return 1
    OUT.mkdir(parents=True, exist_ok=True)
    process, demo = start_demo()
    faults, taken = [], 0
    try:
        with sync_playwright() as playwright:
            arguments = ["--no-sandbox"] if os.geteuid() == 0 else []
            browser = playwright.chromium.launch(executable_path=chromium, args=arguments)
            for width in WIDTHS:
                for scheme in SCHEMES:
                    walk = Walk(browser, demo, width, scheme)
                    walk.everything()
                    faults += walk.faults
                    taken += walk.taken
            browser.close()
            for scheme in SCHEMES:
                field = FieldWalk(playwright, demo.base, demo.sign_ins["field"], scheme, OUT)
                field.everything()
                taken += field.taken
    finally:
        process.terminate()
        process.wait(20)
    print(f"{taken} pictures are in {OUT.relative_to(ROOT)}.", *faults, sep="\n")
    return 1 if faults else 0


if __name__ == "__main__":
    raise SystemExit(main())
