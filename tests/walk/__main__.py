"""``make walk``: the demo on a throwaway server, walked as everybody who uses it. Exits 1 when anything is wrong.

``--base URL --data FOLDER`` walks a demo that runs already; ``--sites N`` loads so many; ``--quick`` walks no further
than the tests do.
"""

import argparse
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SITES = 300
STARTED = "Open "


@contextmanager
def demo_at(folder: Path, sites: int) -> Iterator[str]:
    """A demo of its own in ``folder``: its address, until the end of the block."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("ROOFTALLY_")}
    process = subprocess.Popen(
        [sys.executable, "manage.py", "demo", "--sites", str(sites)],
        cwd=ROOT, env=kept | {"ROOFTALLY_DATA_DIR": str(folder)}, stdout=subprocess.PIPE, text=True,
    )  # fmt: skip
    try:
        yield _address_told(process)
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=30)


def _address_told(process: "subprocess.Popen[str]") -> str:
    assert process.stdout is not None
    for line in process.stdout:
        print(line, end="", flush=True)
        if line.startswith(STARTED):
            return line.removeprefix(STARTED).split(" ")[0]
    raise SystemExit("walk: the demo did not start")


def main() -> int:
    """Walk, tell, and say whether all is well."""
    parser = argparse.ArgumentParser(prog="make walk", description=__doc__)
    parser.add_argument("--base", default="")
    parser.add_argument("--data", type=Path)
    parser.add_argument("--sites", type=int, default=SITES)
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--no-browser", action="store_true")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        data = given.data or Path(scratch)
        os.environ["ROOFTALLY_DATA_DIR"] = str(data)
        if given.base:
            return _walked(given.base, data, given)
        with demo_at(data, given.sites) as base:
            return _walked(base, data, given)


def _walked(base: str, data: Path, given: argparse.Namespace) -> int:
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")
    django.setup()
    from onboarding.management.demo.people import OWNER, STAFF, sign_ins
    from tests.walk.crawl import Limits
    from tests.walk.tour import Account, never_reached, stale, walk_all

    known = sign_ins(data / "sign-ins.json")
    people = [*((role, email) for _name, email, _role, role in STAFF[:3]), (OWNER[2], OWNER[1])]
    accounts = {who: Account(email, known[email].password) for who, email in people}
    started = time.monotonic()
    limits = Limits() if given.quick else Limits(pages_of_a_kind=4, rows_of_a_kind=30, counts_of_a_kind=12)
    found = walk_all(base, accounts, limits, tell=lambda line: print(line, flush=True))
    print(
        f"walk: {found.asked} addresses asked in {time.monotonic() - started:.0f} s, {len(found.opened)} kinds of page"
    )
    faults = found.faults
    if not given.no_browser:
        from playwright.sync_api import sync_playwright

        from tests.walk.chromium import look

        with sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path="/usr/bin/chromium", args=["--no-sandbox"])
            faults = faults + look(browser, base, accounts, found)
            browser.close()
    faults += [f"{name}: no page leads there" for name in never_reached(found)]
    faults += [f"{name}: listed as never reached, but it is" for name in stale(found)]
    for fault in faults:
        print(f"walk: {fault}")
    print(f"walk: {len(faults)} faults" if faults else "walk: every door opens")
    return 1 if faults else 0


if __name__ == "__main__":
    raise SystemExit(main())
