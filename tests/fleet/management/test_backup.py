"""``backup``: what it writes can be started from, also when people write meanwhile."""

import sqlite3
import tarfile
import threading
from pathlib import Path

import pytest

from fleet.management.copying import BackupFailed, write_backup


@pytest.fixture
def data(tmp_path: Path) -> Path:
    data = tmp_path / "data"
    (data / "files" / "ab").mkdir(parents=True)
    (data / "files" / "ab" / "photo").write_bytes(b"roof")
    (data / "ledger-key").write_text("k" * 40)
    with sqlite3.connect(data / "rooftally.sqlite3") as database:
        database.execute("PRAGMA journal_mode = WAL")
        database.execute("CREATE TABLE pair (one INTEGER, two INTEGER)")
        database.executemany("INSERT INTO pair VALUES (?, ?)", [(n, n) for n in range(5000)])
    return data


def unpacked(archive: Path, folder: Path) -> Path:
    with tarfile.open(archive) as tar:
        tar.extractall(folder)
    return folder


def test_it_holds_the_database_the_files_and_the_keys(data: Path, tmp_path: Path):
    archive = tmp_path / "copies" / "backup.tar.gz"
    assert write_backup(database=data / "rooftally.sqlite3", data=data, to=archive) == 2
    restored = unpacked(archive, tmp_path / "restored")
    assert (restored / "files" / "ab" / "photo").read_bytes() == b"roof"
    assert (restored / "ledger-key").read_text() == "k" * 40
    with sqlite3.connect(restored / "rooftally.sqlite3") as database:
        assert database.execute("SELECT count(*) FROM pair").fetchone() == (5000,)
    assert archive.stat().st_mode & 0o777 == 0o600
    assert [path.name for path in archive.parent.iterdir()] == ["backup.tar.gz"]


def test_rows_written_together_are_copied_together(data: Path, tmp_path: Path):
    stop = threading.Event()

    def write() -> None:
        database = sqlite3.connect(data / "rooftally.sqlite3", timeout=20)
        number = 5000
        while not stop.is_set():
            with database:
                database.execute("INSERT INTO pair VALUES (?, NULL)", (number,))
                database.execute("UPDATE pair SET two = one WHERE two IS NULL")
            number += 1
        database.close()

    writer = threading.Thread(target=write)
    writer.start()
    try:
        write_backup(database=data / "rooftally.sqlite3", data=data, to=tmp_path / "backup.tar.gz")
    finally:
        stop.set()
        writer.join()
    restored = unpacked(tmp_path / "backup.tar.gz", tmp_path / "restored")
    with sqlite3.connect(restored / "rooftally.sqlite3") as database:
        assert database.execute("SELECT count(*) FROM pair WHERE two IS NOT one").fetchone() == (0,)
        assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_an_archive_that_is_there_is_left_alone(data: Path, tmp_path: Path):
    archive = tmp_path / "backup.tar.gz"
    archive.write_text("yesterday's")
    with pytest.raises(BackupFailed, match="left alone"):
        write_backup(database=data / "rooftally.sqlite3", data=data, to=archive)
    assert archive.read_text() == "yesterday's"


def test_without_a_database_nothing_is_written(tmp_path: Path):
    with pytest.raises(BackupFailed, match="no database"):
        write_backup(database=tmp_path / "none", data=tmp_path, to=tmp_path / "out" / "backup.tar.gz")
    assert not (tmp_path / "out").exists()
