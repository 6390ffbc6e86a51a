"""The field page on this machine: from frame to result, opening without internet, and what a phone must keep.

``python -m tests.benchmarks.field``: a server of its own on an embedded database, a real Chromium, a film of labels
before its camera. Limits are those that the page was asked to keep; figures are printed, and a broken limit answers 1.
"""

import gzip
import os
import statistics
import sys
from pathlib import Path
from typing import Any

from tests.servers.process import Server, answers, free_port, scratch_folder

PROJECT = Path(__file__).resolve().parent.parent.parent
FRAME_MS, OPEN_MS, KEPT_BYTES = 300.0, 1000.0, 450_000
TIMED = """() => {
  const was = Rooftally.capture.fromCamera;
  window.took = [];
  Rooftally.capture.fromCamera = async (seen, taken) => {
    const record = await was(seen, taken);
    if (record) window.took.push(performance.now() - taken);
  };
}"""


def main() -> int:
    """Print the three figures with their limits; 1 where one is broken."""
    folder, port = scratch_folder(), free_port()
    os.environ |= {
        "ROOFTALLY_DATA_DIR": str(folder), "ROOFTALLY_BASE_URL": f"http://localhost:{port}",
        "DJANGO_SETTINGS_MODULE": "fleet.config.settings", "DJANGO_ALLOW_ASYNC_UNSAFE": "true",
    }  # fmt: skip
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0)
    server = Server([sys.executable, "manage.py", "serve"], log=folder / "server", cwd=PROJECT)
    try:
        server.wait_until(lambda: answers(port))
        took, opened = _measured(f"http://localhost:{port}", folder)
    finally:
        server.stop()
    lines = [
        ("frame to result, median", statistics.median(took), FRAME_MS, "ms"),
        ("open with no network, slowest of 5", max(opened["down"]), OPEN_MS, "ms"),
        ("open on a network that answers nothing, slowest of 5", max(opened["dead"]), OPEN_MS, "ms"),
        ("kept on the phone, gzip", _kept(), KEPT_BYTES, "bytes"),
    ]
    print(f"frame to result, slowest of {len(took)}: {max(took):,.0f} ms (no limit: it is the machine's other work)")
    for what, figure, limit, unit in lines:
        print(f"{what}: {figure:,.0f} {unit} (at most {limit:,.0f}){'' if figure <= limit else '  BROKEN'}")
    return int(any(figure > limit for _what, figure, limit, _unit in lines))


def _measured(url: str, folder: Path) -> tuple[list[float], dict[str, list[float]]]:
    from playwright.sync_api import sync_playwright

    from fleet.models import Role
    from tests import rows
    from tests.browser.field.conftest import session_cookies
    from tests.browser.field.film import labels, shoot
    from tests.browser.field.phone import Phone, wait_for
    from tests.browser.field.proxy import Network

    member = rows.make_member(Role.FIELD)
    rows.assign(member, rows.make_site(member.company))
    network = Network(url)
    with sync_playwright() as driver:
        profile = folder / "phone"
        profile.mkdir()
        phone = Phone(driver, profile, network.url, shoot(folder / "film.mjpeg", labels(20)))
        try:
            page = phone.open(cookies=session_cookies(member.user))
            phone.kept_offline()
            phone.choose_site()
            page.evaluate(TIMED)
            page.click("#camera-switch")
            wait_for(lambda: page.evaluate("window.took.length") >= 20, "20 scans", longest=120)
            took: list[float] = page.evaluate("window.took")
            opened = {mode: [_opened(phone, network, mode) for _ in range(5)] for mode in ("down", "dead")}
        finally:
            phone.kill()
            network.stop()
    return took, opened


def _opened(phone: Any, network: Any, mode: str) -> float:
    network.mode = mode
    phone.load()
    return float(phone.page.evaluate("performance.getEntriesByName('ready')[0].startTime"))


def _kept() -> int:
    from django.test import Client

    from fleet.field_page import file_content, kept_files

    client = Client(headers={"host": "localhost"})
    pages = [client.get(path).content for path in ("/field/", "/field/page.js", "/field/decoder.js")]
    return sum(len(gzip.compress(content, 9)) for content in (*map(file_content, kept_files()), *pages))


if __name__ == "__main__":
    raise SystemExit(main())
