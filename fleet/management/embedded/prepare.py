"""What must be true before anything is served: the database is migrated, static files are collected."""

import hashlib
import sqlite3
from pathlib import Path
from typing import Any

from django.conf import settings
from django.contrib.staticfiles.finders import get_finders
from django.core.management import call_command
from django.db import connection


def prepare() -> None:
    """Migrate the database, and collect static files when any changed since they were last collected."""
    settings.DATA_DIR.mkdir(parents=True, exist_ok=True)
    call_command("migrate", interactive=False, verbosity=0)
    collect_when_changed()


def held_open() -> sqlite3.Connection | None:
    """A connection that does nothing but stay open; None where the database is not SQLite.

    SQLite removes its log with the last connection and makes it anew with the next one, which a full disk refuses: then
    not even reading would go on.
    """
    if connection.vendor != "sqlite":
        return None
    held = sqlite3.connect(str(connection.settings_dict["NAME"]), check_same_thread=False)
    held.execute("SELECT count(*) FROM sqlite_master").fetchone()  # only now does it open the log
    return held


def collect_when_changed() -> bool:
    """Collect static files unless they are the very ones collected before; answers whether it did."""
    root = Path(settings.STATIC_ROOT)
    mark = root / ".collected-from"
    now = _fingerprint()
    if mark.is_file() and mark.read_text(encoding="utf-8") == now:
        return False
    root.mkdir(parents=True, exist_ok=True)
    call_command("collectstatic", interactive=False, verbosity=0)
    mark.write_text(now, encoding="utf-8")
    return True


def _fingerprint() -> str:
    """SHA-256 over the names, sizes and times of every static file, and over how they are kept."""
    digest = hashlib.sha256(str(settings.STORAGES["staticfiles"]).encode())
    for finder in get_finders():
        found: Any = finder.list([])
        for name, storage in sorted(found, key=lambda pair: str(pair[0])):
            status = Path(storage.path(name)).stat()
            digest.update(f"{name}\0{status.st_size}\0{status.st_mtime_ns}\n".encode())
    return digest.hexdigest()
