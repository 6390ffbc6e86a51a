"""The one way in and out of the folder that holds files by their content.

A file comes into being whole or not at all: written under a temporary name, brought to the disk, read back, compared,
then renamed. What is there already is compared too, because a name says nothing about what a full disk left behind.
"""

import hashlib
import os
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from uuid import uuid4

from django.core.files.storage import default_storage

UNFINISHED = ".unfinished"
"""The folder of temporary names, on the same file system so that a rename is one step."""
AT_ONCE = 1 << 20


class FileNotKept(OSError):
    """The content did not reach the disk whole; nothing of it was left under its name."""


class FileGone(Exception):
    """There is no file under this key, or not the one that was put there."""


@dataclass(frozen=True, slots=True)
class OnDisk:
    """One file as it lies in the folder."""

    key: str
    size: int
    changed_at: datetime


def keep(key: str, content: bytes) -> None:
    """Have ``content`` under ``key``, on the disk. Raises OSError (FileNotKept where what was written differs)."""
    path, digest = _path(key), hashlib.sha256(content).hexdigest()
    if _holds(path, len(content), digest):
        return
    _make_folder(path.parent)
    unfinished = _path(UNFINISHED) / uuid4().hex
    _make_folder(unfinished.parent)
    try:
        _write(unfinished, content)
        if not _holds(unfinished, len(content), digest):
            raise FileNotKept(f"what was written for {key} reads back differently")
        unfinished.replace(path)
    finally:
        with suppress(OSError):
            unfinished.unlink(missing_ok=True)
    _to_disk(path.parent)


def content_of(key: str, *, size: int, sha256: str) -> bytes:
    """The bytes that were kept under ``key``. Raises FileGone where they are not there or are others."""
    try:
        content = _path(key).read_bytes()
    except FileNotFoundError as error:
        raise FileGone(key) from error
    if len(content) != size or hashlib.sha256(content).hexdigest() != sha256:
        raise FileGone(key)
    return content


def fault_of(key: str, *, size: int, sha256: str) -> str:
    """``missing``, ``short``, ``altered``, or nothing where the file is the one that was kept."""
    path = _path(key)
    try:
        found = path.stat().st_size
    except FileNotFoundError:
        return "missing"
    if found < size:
        return "short"
    return "" if _holds(path, size, sha256) else "altered"


def forget(key: str) -> None:
    """Remove what is under ``key``, if anything is."""
    _path(key).unlink(missing_ok=True)


def all_kept() -> Iterator[OnDisk]:
    """Every file in the folder, unfinished ones too."""
    root = _path("")
    for folder, _folders, names in os.walk(root):
        for name in names:
            path = Path(folder) / name
            with suppress(FileNotFoundError):  # it went since it was listed
                status = path.stat()
                key = path.relative_to(root).as_posix()
                yield OnDisk(key, status.st_size, datetime.fromtimestamp(status.st_mtime, UTC))


def _path(key: str) -> Path:
    return Path(default_storage.path(key))


def _holds(path: Path, size: int, sha256: str) -> bool:
    try:
        with path.open("rb") as opened:
            if os.fstat(opened.fileno()).st_size != size:
                return False
            digest = hashlib.sha256()
            while part := opened.read(AT_ONCE):
                digest.update(part)
    except FileNotFoundError:
        return False
    return digest.hexdigest() == sha256


def _write(path: Path, content: bytes) -> None:
    with path.open("xb") as opened:
        opened.write(content)
        opened.flush()
        os.fsync(opened.fileno())


def _make_folder(folder: Path) -> None:
    """Make ``folder``, and have the names of what was made on the disk too."""
    made = [folder, *folder.parents]
    made = made[: next(place for place, path in enumerate(made) if path.is_dir())]
    folder.mkdir(parents=True, exist_ok=True)
    for path in made:
        _to_disk(path.parent)


def _to_disk(folder: Path) -> None:
    descriptor = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
