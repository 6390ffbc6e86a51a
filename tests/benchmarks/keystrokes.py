"""From key to paint: somebody types into the search box of a real Chromium, on an embedded database of many sites.

``python -m tests.benchmarks.keystrokes [--sites 100000]``. The browser times itself: from the input event to the second
animation frame after the answer stands in the page, when it has been painted. Printed, never asserted.
"""

from __future__ import annotations

import argparse
import os
import statistics
import subprocess
import sys
from pathlib import Path
from typing import Any

from tests.servers.process import Server, answers, free_port, scratch_folder

PROJECT = Path(__file__).resolve().parents[2]
WANTED_MS = 100.0
TEXTS = ("mondel", "amoreira velha", "rua alver", "ana serena", "vila nov")
TIMED = """() => {
  const box = document.getElementById("search-box");
  const answers = document.getElementById("search-answers");
  window.painted = [];
  let pressed = 0;
  box.addEventListener("input", () => { pressed = performance.now(); }, true);
  answers.addEventListener("htmx:afterSwap", () => {
    const since = pressed;
    requestAnimationFrame(() => requestAnimationFrame(() => window.painted.push(performance.now() - since)));
  });
}"""


def main() -> None:
    """Load, serve, type, print."""
    options = argparse.ArgumentParser(prog="python -m tests.benchmarks.keystrokes")
    options.add_argument("--sites", type=int, default=100_000)
    sites = options.parse_args().sites
    folder, port = scratch_folder(on_disk=True), free_port()
    url = f"http://localhost:{port}"
    os.environ |= {
        "ROOFTALLY_DATA_DIR": str(folder), "ROOFTALLY_BASE_URL": url, "ROOFTALLY_LOG_LEVEL": "WARNING",
        "DJANGO_SETTINGS_MODULE": "fleet.config.settings", "DJANGO_ALLOW_ASYNC_UNSAFE": "true",
    }  # fmt: skip
    for words in (("migrate", "-v0"), ("load_fleet", f"--sites={sites}", "--companies=20")):
        subprocess.run([sys.executable, "manage.py", *words], cwd=PROJECT, check=True, stdout=subprocess.DEVNULL)
    import django

    django.setup()
    server = Server([sys.executable, "manage.py", "serve"], log=folder / "server", cwd=PROJECT)
    try:
        server.wait_until(lambda: answers(port))
        took = sorted(_typed(url))
    finally:
        server.stop()
    slowest = took[int(len(took) * 0.95)]
    print(
        f"{sites:,} sites, {len(took)} keys: key to paint {statistics.median(took):.0f} ms in the median, "
        f"{slowest:.0f} ms at the 95th percentile, {took[-1]:.0f} ms at most ({WANTED_MS:.0f} wanted)"
    )


def _typed(url: str) -> list[float]:
    from playwright.sync_api import sync_playwright

    from fleet.models import Member, Role
    from tests.browser.conftest import session_of

    member = Member.objects.filter(role=Role.ADMINISTRATOR).select_related("user").order_by("pk")[0]
    cookie: Any = {"name": "rooftally_session", "value": session_of(member.user), "url": url}
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
        context = browser.new_context(base_url=url)
        context.add_cookies([cookie])
        page = context.new_page()
        page.goto("/")
        page.click("#search-box")
        page.keyboard.type("warm", delay=200)
        page.evaluate(TIMED)
        for text in TEXTS:
            page.fill("#search-box", "")
            page.wait_for_timeout(300)
            page.keyboard.type(text, delay=220)
            page.wait_for_timeout(300)
        took: list[float] = page.evaluate("window.painted")
        browser.close()
    return took


if __name__ == "__main__":
    main()
