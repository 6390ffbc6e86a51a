"""Small files that become large pictures, and long bodies for short forms, cost the server little and are told so."""

import io
import json
import subprocess
import sys
import threading
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as installed
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from fleet.models import Member, Site
from tests.factories import make_member, make_site

EIGHT_AT_ONCE = """
import json, pathlib, resource, sys, threading
from fleet.labels.optical import ImageRefused, read_image
picture = pathlib.Path(sys.argv[1]).read_bytes()
before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
told = []
def read():
    try:
        told.append(len(read_image(picture)))
    except ImageRefused as refused:
        told.append(type(refused).__name__)
threads = [threading.Thread(target=read) for _ in range(8)]
[thread.start() for thread in threads]
[thread.join() for thread in threads]
print(json.dumps([told, (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) // 1024]))
"""
MAKE = """
import sys
import pillow_heif
from PIL import Image
side, path = int(sys.argv[1]), sys.argv[2]
picture = Image.new("RGB", (side, side), "tan")
if path.endswith("heic"):
    pillow_heif.from_pillow(picture).save(path, quality=50, enc_params={"preset": "ultrafast"})
else:
    picture.save(path, quality=50, method=0)
"""


def run(code: str, *arguments: str) -> str:
    ended = subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=False)
    assert ended.returncode == 0, ended.stderr
    return ended.stdout


def eight_at_once(folder: Path, side: int, kind: str) -> tuple[list[Any], int]:
    """What came of eight threads that read a picture of ``side`` pixels squared, and the megabytes it took."""
    path = folder / f"small.{kind}"
    run(MAKE, str(side), str(path))
    told, megabytes = json.loads(run(EIGHT_AT_ONCE, str(path)))
    return told, megabytes


@pytest.mark.slow
@pytest.mark.timeout(400)
@pytest.mark.parametrize("kind", ["heic", "png", "webp", "jpg"])
def test_eight_small_files_of_49_megapixels_take_little_memory(tmp_path: Path, kind: str):
    told, megabytes = eight_at_once(tmp_path, 7000, kind)
    assert len(told) == 8
    assert megabytes < 400, told
    if kind != "jpg":  # which is decoded at half its size
        assert set(told) <= {"ImageTooLarge", "TooBusy"}


@pytest.mark.slow
@pytest.mark.timeout(400)
def test_of_eight_large_pictures_at_once_two_are_read_and_two_wait(tmp_path: Path):
    told, megabytes = eight_at_once(tmp_path, 4900, "heic")
    assert told.count("TooBusy") >= 1
    assert told.count(0) >= 2  # read, and no code was in them
    assert megabytes < 900, told


def test_the_slots_are_free_again_whatever_came_of_a_picture():
    from fleet.labels import pictures
    from fleet.labels.optical import ImageRefused, read_image

    for _try in range(3 * (pictures.SLOTS + pictures.WAITING)):
        with pytest.raises(ImageRefused) as refused:
            read_image(b"no picture")
        assert not isinstance(refused.value, pictures.TooBusy)


def test_a_large_jpeg_is_read_at_half_its_size(tmp_path: Path):
    import zxingcpp
    from PIL import Image

    from fleet.labels.optical import read_image

    code = zxingcpp.create_barcode("SN0001", zxingcpp.BarcodeFormat.DataMatrix)
    scene = Image.new("L", (6600, 6600), 255)
    scene.paste(
        Image.fromarray(__import__("numpy").array(zxingcpp.write_barcode_to_image(code, scale=40))), (2000, 2000)
    )
    file = io.BytesIO()
    scene.save(file, "JPEG", quality=70)
    assert [found.payload for found in read_image(file.getvalue())] == ["SN0001"]


# --- what is said of it -----------------------------------------------------------------------------------------------


@pytest.fixture
def member() -> Member:
    return make_member()


@pytest.fixture
def site(member: Member) -> Site:
    return make_site(member)


@pytest.fixture
def page(member: Member) -> Client:
    client = Client(raise_request_exception=False)
    client.force_login(member.user, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.mark.django_db
def test_while_all_slots_are_taken_the_page_and_the_api_say_so(page: Client, site: Site, monkeypatch):
    from fleet.labels import pictures

    monkeypatch.setattr(pictures, "_places", threading.BoundedSemaphore(1))
    pictures._places.acquire()
    answer = page.post(reverse("fleet:scan", args=[site.code]), {"photo": SimpleUploadedFile("a.jpg", b"\xff\xd8\xff")})
    assert answer.status_code == 422
    assert "send it again in a few seconds" in answer.content.decode()
    answer = page.post("/api/v1/labels/decode", {"image": SimpleUploadedFile("a.jpg", b"\xff\xd8\xff", "image/jpeg")})
    assert answer.status_code == 503, answer.content
    assert answer.json()["code"] == "busy"
    assert answer.headers["Retry-After"]


# --- bodies -----------------------------------------------------------------------------------------------------------


class Endless:
    """A body of which nobody knows the end, and that tells whether anybody read of it."""

    def __init__(self) -> None:
        self.taken = 0

    def read(self, size: int = -1) -> bytes:
        size = 65_536 if size < 0 else min(size, 65_536)
        self.taken += size
        return b"a" * size

    readline = read


def announced(client: Client, path: str, length: int, content_type: str) -> tuple[int, str, int]:
    """Announce ``length`` bytes to ``path``; answers the status, the text, and how many bytes were read."""
    body = Endless()
    answer = client.generic("POST", path, b"", content_type, **{"CONTENT_LENGTH": str(length), "wsgi.input": body})  # type: ignore[arg-type]  # WSGI's own variables
    return answer.status_code, answer.content.decode(), body.taken


MULTIPART = "multipart/form-data; boundary=X"


@pytest.mark.django_db
@pytest.mark.parametrize("content_type", [MULTIPART, "application/x-www-form-urlencoded"])
def test_a_long_body_to_a_door_is_refused_before_a_byte_is_read(content_type: str):
    for path in ("/accounts/login/", "/accounts/password/reset/", "/welcome/x", "/join/x", "/sites/new", "/leave/x"):
        status, text, taken = announced(Client(raise_request_exception=False), path, 300_000_000, content_type)
        assert (status, taken) == (413, 0), path
        assert "Nothing of it was kept" in text


@pytest.mark.django_db
def test_who_is_signed_in_may_send_one_file_and_no_more(page: Client, site: Site):
    path = reverse("fleet:add_file", args=[site.code])
    assert announced(page, path, installed.UPLOAD_MAX_BYTES + 1_000_001, MULTIPART)[0] == 413
    photo = SimpleUploadedFile("roof.jpg", b"\xff\xd8\xff" + bytes(2_000_000), "image/jpeg")
    assert page.post(path, {"content": photo}).status_code == 302


@pytest.mark.django_db
def test_the_api_takes_what_each_operation_says(page: Client):
    for path, length in (("/api/v1/sites", 1_100_000), ("/api/field/records", installed.UPLOAD_MAX_BYTES * 2)):
        status, text, taken = announced(page, path, length, "application/json")
        assert (status, taken) == (413, 0), path
        assert json.loads(text)["code"] == "too_large"


@pytest.mark.django_db
def test_a_photo_of_several_megabytes_comes_through_the_phones_door(page: Client, member: Member, site: Site):
    import base64
    from datetime import UTC, datetime
    from uuid import uuid4

    photo = b"\xff\xd8\xff" + bytes(range(256)) * 20_000
    record = {
        "id": str(uuid4()), "kind": "file", "seq": 1, "member": str(member.public_id), "site": site.code,
        "made_at": datetime.now(UTC).isoformat(), "content": {
            "name": "roof.jpg", "content_type": "image/jpeg", "data": base64.b64encode(photo).decode(),
        },
    }  # fmt: skip
    answer = page.post("/api/field/records", {"records": [record]}, "application/json")
    assert [one["status"] for one in answer.json()["answers"]] == [201], answer.content[:300]


@pytest.mark.slow
@pytest.mark.once
@pytest.mark.timeout(400)
def test_three_hundred_megabytes_to_the_sign_in_form_leave_nothing_on_the_disk(tmp_path: Path):
    """Over gunicorn, which hands bodies of any length on."""
    import http.client
    import os

    from tests.servers.process import Server, free_port

    folder, port = tmp_path / "tmp", free_port()
    folder.mkdir()
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("ROOFTALLY_", "PYTEST_"))}
    environment = kept | {"ROOFTALLY_DATA_DIR": str(tmp_path / "data"), "TMPDIR": str(folder), "ROOFTALLY_DEBUG": "yes"}
    subprocess.run([sys.executable, "manage.py", "migrate", "-v0"], env=environment, check=True)
    command = [sys.executable, "-m", "gunicorn", "fleet.config.wsgi:application", "--bind", f"127.0.0.1:{port}"]
    server = Server(
        [*command, "--worker-class", "gthread", "--threads", "2", "--worker-tmp-dir", str(tmp_path)],
        log=tmp_path / "log", environment=environment,
    )  # fmt: skip
    try:
        server.wait_until(lambda: _answers(port), seconds=90)
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        connection.putrequest("POST", "/accounts/login/")
        connection.putheader("Content-Type", MULTIPART)
        connection.putheader("Content-Length", "300000000")
        connection.endheaders()
        largest, status = 0, 0
        try:
            connection.send(b'--X\r\nContent-Disposition: form-data; name="a"; filename="a"\r\n\r\n')
            for _part in range(40):
                connection.send(b"a" * 1_000_000)
                largest = max(largest, _on_disk(folder))
        except OSError:
            pass  # the server hung up
        try:
            status = connection.getresponse().status
        except (OSError, http.client.HTTPException):
            status = 0
        assert largest < 3_000_000
        assert status in (413, 0)
        assert _on_disk(folder) < 3_000_000
    finally:
        server.stop()


def _answers(port: int) -> bool:
    from urllib.error import URLError
    from urllib.request import urlopen

    try:
        with urlopen(f"http://127.0.0.1:{port}/healthz", timeout=10) as answer:
            return bool(answer.status == 200)
    except (URLError, OSError):
        return False


def _on_disk(folder: Path) -> int:
    """Bytes in the folder, those of files without a name too."""
    import os

    named = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
    unnamed = 0
    for link in Path("/proc").glob("[0-9]*/fd/*"):
        try:
            if str(folder) in os.readlink(link):
                unnamed += link.stat().st_size
        except OSError:
            continue
    return max(named, unnamed)
