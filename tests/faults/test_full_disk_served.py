"""A running installation whose whole disk fills up: pages that read go on, acts say 507, and room again heals it."""

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest

from tests.faults.small_disk import small_file_system
from tests.fleet.management.test_serve import Serving, environment
from tests.flows.test_hostile_over_http import Browser

pytestmark = [pytest.mark.slow, pytest.mark.once, pytest.mark.timeout(400)]
SECRET = "ochre gate seven quails"
CHECK = {"title": "Insulation measured", "finding": "done"}
SEED = f"""
import json
from tests.factories import make_member, make_site, make_user
user = make_user("rui@example.net", password="{SECRET}")
print("SEED " + json.dumps({{"site": make_site(make_member(user=user)).code}}))
"""


class Place:
    """A served installation on a disk of its own, with a person who is signed in."""

    def __init__(self, disk: Path, elsewhere: Path) -> None:
        self.disk = disk
        self.settings = {"ROOFTALLY_STATIC_DIR": str(elsewhere / "static")}
        self.serving = Serving(disk, **self.settings)
        seeded = self.manage("shell", "-c", SEED)
        self.site: str = json.loads(seeded.rpartition("SEED ")[2])["site"]
        self.browser = Browser(self.serving.port)
        assert self.sign_in(self.browser) == 302

    def manage(self, *arguments: str) -> str:
        ended = subprocess.run(
            [sys.executable, "manage.py", *arguments], env=environment(self.disk, **self.settings),
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        assert ended.returncode == 0, ended.stdout + ended.stderr
        return ended.stdout

    def sign_in(self, browser: Browser) -> int:
        return browser.post("/accounts/login/", {"login": "rui@example.net", "password": SECRET}).status

    def fill(self) -> None:
        """Leave not a byte: each write is as long as the file system takes it whole."""
        with (self.disk / "ballast").open("wb", buffering=0) as ballast:
            for size in (1_000_000, 4096, 1):
                with suppress(OSError):
                    while ballast.write(bytes(size)) == size:
                        continue
        assert os.statvfs(self.disk).f_bavail == 0

    def make_room(self) -> None:
        os.unlink(self.disk / "ballast")


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    with small_file_system(tmp_path / "disk", 24) as disk:
        made = Place(disk, tmp_path)
        yield made
        made.serving.server.stop()


def test_reading_goes_on_and_writing_is_kept_or_says_that_there_is_no_room(place: Place):
    site = f"/sites/{place.site}/"
    place.fill()
    for _again in range(4):
        for page in ("/", "/sites/", site, "/field/", "/healthz"):
            assert place.browser.ask("GET", page).status == 200, page
        time.sleep(1.5)  # no connection to the database is open in between
    for number in range(3):  # SQLite's log may have room of its own yet: then it is kept, else it says why not
        told = place.browser.post(f"{site}checks", CHECK | {"title": f"Check {number}", "note": "x" * 1900}, site)
        assert told.status in (302, 507), told.text
        assert "no room left" in told.text or f"Check {number}" in place.browser.ask("GET", site).text
    place.make_room()
    assert place.browser.post(f"{site}checks", CHECK, site).status == 302
    assert "Insulation measured" in place.browser.ask("GET", site).text
