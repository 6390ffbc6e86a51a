"""The office's disk is full: the phone keeps its photo, says why it waits, and sends it whole once there is room."""

import base64
from pathlib import Path

import pytest
from django.core.files import storage

from fleet.models import StoredFile
from fleet.queries.files import file_content
from tests.browser.field.phone import Phone, wait_for
from tests.faults.small_disk import small_file_system

pytestmark = [pytest.mark.browser, pytest.mark.slow, pytest.mark.django_db(transaction=True)]
PHOTO = b"\xff\xd8\xff" + bytes(range(256)) * 1500  # 384,003 bytes, which the page sends at once
KEEP = """([site, data]) => Rooftally.capture.keep("file", site, {
  name: "roof.jpg", content_type: "image/jpeg", purpose: "photo", data,
})"""


def test_a_photo_stays_on_the_phone_until_there_is_room(at_site: Phone, site, tmp_path: Path, monkeypatch):
    with small_file_system(tmp_path / "disk", 1) as folder:
        (folder / "ballast").write_bytes(bytes(800_000))
        for name in ("location", "base_location"):
            monkeypatch.setitem(vars(storage.storages["default"]), name, str(folder))
        at_site.page.evaluate(KEEP, [site.code, base64.b64encode(PHOTO).decode()])
        wait_for(lambda: at_site.records()[0]["attempts"], "the photo to be refused")
        [record] = at_site.records()
        assert record["state"] == "waiting"
        assert record["content"]["data"] == base64.b64encode(PHOTO).decode()
        at_site.page.evaluate("location.hash = '#fates'")
        wait_for(lambda: "There is no room left" in at_site.page.inner_text("#fate-list"), "the reason")
        assert "It stays here and is tried again" in at_site.page.inner_text("#fate-list")
        assert not StoredFile.objects.exists()
        (folder / "ballast").unlink()
        at_site.page.evaluate("(id) => Rooftally.store.note(id, 'hold_until', 0)", record["id"])  # five minutes later
        wait_for(at_site.all_answered, "the photo to be taken")
        assert file_content(StoredFile.objects.get()) == PHOTO
        assert "data" not in at_site.records()[0]["content"]
