"""One archive of the embedded installation: database, files, keys."""

import sqlite3
import tarfile
import tempfile
from contextlib import closing
from pathlib import Path

from fleet.kept_files import UNFINISHED

DATABASE_NAME = "rooftally.sqlite3"
KEYS = ("secret-key", "ledger-key", "address-keys")


class BackupFailed(Exception):
    """No archive was written; the message says why."""


def write_backup(*, database: Path, data: Path, to: Path) -> int:
    """Write the archive ``to`` (mode 0600, gzip); answers how many files and keys it holds besides the database.

    The database comes first, by SQLite's online backup; a file is stored before the row that names it commits and is
    never changed, so every file that the copied rows name is there. Raises BackupFailed, leaving nothing behind.
    """
    if to.exists():
        raise BackupFailed(f"{to} is there already and was left alone.")
    if not database.is_file():
        raise BackupFailed(f"There is no database at {database}.")
    to.parent.mkdir(parents=True, exist_ok=True)
    unfinished = to.with_name(f".{to.name}.unfinished")
    try:
        with tempfile.TemporaryDirectory(dir=to.parent) as folder:
            copy = Path(folder) / DATABASE_NAME
            _copy_database(database, copy)
            written = _write_archive(unfinished, copy, data)
        unfinished.replace(to)
    except (OSError, sqlite3.Error) as error:
        raise BackupFailed(f"Nothing was written: {error}") from error
    finally:
        unfinished.unlink(missing_ok=True)
    return written


def _copy_database(database: Path, copy: Path) -> None:
    with closing(sqlite3.connect(f"file:{database}?mode=ro", uri=True)) as source, closing(sqlite3.connect(copy)) as to:
        source.backup(to)
        to.execute("PRAGMA journal_mode = DELETE")
        found = to.execute("PRAGMA quick_check").fetchone()[0]
    if found != "ok":
        raise BackupFailed(f"The copied database is not sound: {found}")


def _write_archive(archive: Path, copy: Path, data: Path) -> int:
    written = 0
    archive.touch(mode=0o600)
    with tarfile.open(archive, "w:gz") as tar:
        tar.add(copy, DATABASE_NAME)
        files = sorted(path for path in (data / "files").rglob("*") if path.is_file() and UNFINISHED not in path.parts)
        for path in [data / name for name in KEYS if (data / name).is_file()] + files:
            tar.add(path, str(path.relative_to(data)))
            written += 1
    return written
