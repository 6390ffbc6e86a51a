"""A photo that a full disk cut off is never told as kept, whoever sends it and however often; what reads goes on."""

import base64
import hashlib
import re
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, nullcontext
from datetime import timedelta
from io import StringIO
from pathlib import Path
from uuid import uuid4

import pytest
from django.conf import settings
from django.core.files import storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.models import FieldRecord, Member, Site, StoredFile
from tests.factories import make_member, make_site
from tests.faults.small_disk import largest_file, small_file_system

pytestmark = pytest.mark.django_db
ROOM = 1
PHOTO = b"\xff\xd8\xff" + bytes(range(256)) * 6_250  # 1,600,003 bytes


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


Full = Callable[[], AbstractContextManager[None]]


@pytest.fixture(params=["file system", "file size"])
def full(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Full]:
    """Files lie where there is room for ROOM megabytes, within ``with full():``."""
    if request.param == "file size":
        yield lambda: largest_file(ROOM * 1_000_000)
        return
    with small_file_system(tmp_path / "disk", ROOM) as folder:
        monkeypatch.setitem(vars(storage.storages["default"]), "location", str(folder))
        monkeypatch.setitem(vars(storage.storages["default"]), "base_location", str(folder))
        yield nullcontext


def send(page: Client, site: Site, content: bytes = PHOTO) -> str:
    """Send a photo by the site's page; answers what the page then says."""
    photo = SimpleUploadedFile("roof.jpg", content, "image/jpeg")
    answer = page.post(reverse("fleet:add_file", args=[site.code]), {"content": photo}, follow=True)
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def left_behind(name: str) -> list[int]:
    return [
        path.stat().st_size
        for path in Path(storage.default_storage.path("")).rglob("*")
        if path.is_file() and name in str(path)
    ]


def test_a_photo_sent_again_to_a_full_disk_is_still_not_kept(page: Client, site: Site, full: Full):
    digest = hashlib.sha256(PHOTO).hexdigest()
    with full():
        for _again in range(3):
            said = send(page, site)
            assert "The file is kept here" not in said
            assert "There is no room left" in said
            assert "Keep your copy" in said
    assert not StoredFile.objects.exists()
    assert left_behind(digest) == []


def test_with_room_again_it_is_kept_whole(page: Client, site: Site, tmp_path: Path):
    digest = hashlib.sha256(PHOTO).hexdigest()
    with largest_file(ROOM * 1_000_000):
        assert "The file is kept here" not in send(page, site)
        assert "The file is kept here" not in send(page, site)
    assert "The file is kept here" in send(page, site)
    kept = page.get(reverse("fleet:file", args=[StoredFile.objects.get().public_id]))
    assert kept.content == PHOTO
    assert left_behind(digest) == [len(PHOTO)]


def test_what_a_full_disk_left_behind_earlier_is_not_believed(page: Client, site: Site, member: Member):
    digest = hashlib.sha256(PHOTO).hexdigest()
    cut = Path(storage.default_storage.path(f"{member.company.public_id}/{digest[:2]}/{digest}"))
    cut.parent.mkdir(parents=True, exist_ok=True)
    cut.write_bytes(PHOTO[:942_080])
    assert "The file is kept here" in send(page, site)
    assert cut.read_bytes() == PHOTO


def test_the_phone_is_told_507_and_no_record_is_taken(page: Client, site: Site, member: Member, full: Full):
    record = {
        "id": str(uuid4()), "kind": "file", "seq": 1, "member": str(member.public_id), "site": site.code,
        "made_at": timezone.now().isoformat(),
        "content": {
            "name": "roof.jpg", "content_type": "image/jpeg", "purpose": "photo",
            "data": base64.b64encode(PHOTO).decode(),
        },
    }  # fmt: skip

    def told() -> dict[str, object]:
        answer = page.post("/api/field/records", {"records": [record]}, "application/json")
        assert answer.status_code == 200
        [one] = answer.json()["answers"]
        return dict(one)

    with full():
        for _again in range(2):
            one = told()
            assert one["status"] == 507
            assert "result" not in one
            assert one["problem"]["code"] == "no_room"  # type: ignore[index]
            assert "Keep your copy" in one["problem"]["detail"]  # type: ignore[index]
    assert not FieldRecord.objects.exists()
    assert not StoredFile.objects.exists()


def kept(page: Client, site: Site, content: bytes) -> Path:
    assert "The file is kept here" in send(page, site, content)
    return Path(
        storage.default_storage.path(StoredFile.objects.get(sha256=hashlib.sha256(content).hexdigest()).storage_key)
    )


def spoil(page: Client, site: Site) -> dict[str, Path]:
    """Four files, three of them harmed and one that no row names."""
    files = {
        what: kept(page, site, b"\xff\xd8\xff" + what.encode() * 9) for what in ("whole", "missing", "short", "altered")
    }
    files["missing"].unlink()
    files["short"].write_bytes(files["short"].read_bytes()[:-1])
    files["altered"].write_bytes(files["altered"].read_bytes()[::-1])
    files["orphaned"] = files["whole"].with_name("f" * 64)
    files["orphaned"].write_bytes(b"nobody's")
    return files


def told_of(files: dict[str, Path], printed: str) -> set[str]:
    return {what for what, path in files.items() if f"{what} " in printed and path.name in printed}


def test_verify_files_names_the_missing_the_short_the_altered_and_the_orphaned(page: Client, site: Site, monkeypatch):
    from fleet.queries import files as queries

    monkeypatch.setattr(queries, "JUST_COMING", timedelta(0))
    files = spoil(page, site)
    out = StringIO()
    with pytest.raises(CommandError) as ended:
        call_command("verify_files", stdout=out)
    assert ended.value.returncode == 1
    assert told_of(files, out.getvalue()) == {"missing", "short", "altered", "orphaned"}
    assert files["whole"].name not in out.getvalue()
    assert (
        page.get(
            reverse("fleet:file", args=[StoredFile.objects.get(sha256=files["altered"].name).public_id])
        ).status_code
        == 410
    )


def test_verify_files_is_content_with_whole_files_and_with_one_that_is_just_coming(page: Client, site: Site):
    files = kept(page, site, PHOTO[:4000])
    files.with_name("e" * 64).write_bytes(b"its row commits in a moment")
    out = StringIO()
    call_command("verify_files", stdout=out)
    assert "all whole" in out.getvalue()
    files.with_name("e" * 64).unlink()


@pytest.mark.once
def test_a_backup_says_what_it_could_not_copy_whole(page: Client, site: Site, tmp_path: Path, monkeypatch):
    if settings.DATABASES["default"]["ENGINE"] != "django.db.backends.sqlite3":
        pytest.skip("backup copies the embedded database")
    monkeypatch.setattr("fleet.management.commands.backup.write_backup", lambda **_given: 7)
    files = spoil(page, site)
    out = StringIO()
    with pytest.raises(CommandError, match="The archive was written, but 3 file"):
        call_command("backup", str(tmp_path / "b.tar.gz"), stdout=out)
    assert {"missing", "short", "altered"} <= told_of(files, out.getvalue())
