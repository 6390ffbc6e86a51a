"""Takes out of the database the passwords that labels had put there."""

from argparse import ArgumentParser
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from fleet.operations.redaction import redact_secrets


class Command(BaseCommand):
    help = (
        "Counts the stored rows that hold a password or key from a label, which the register withholds by now; with "
        "--apply, replaces each by a keyed hash and writes an entry on the trail. May be stopped and run again."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--apply", action="store_true", help="change the rows; without it they are only counted")
        parser.add_argument("--backups", type=Path, help="a folder of backup archives, to name those made before")

    def handle(self, *args: Any, **options: Any) -> None:
        began = datetime.now(UTC)
        for table, number in redact_secrets(apply=options["apply"]).items():
            self.stdout.write(f"{table}: {number} row(s) with a secret{', redacted' if options['apply'] else ''}")
        if not options["apply"]:
            self.stdout.write("Nothing was changed. Run it again with --apply.")
            return
        when = f"{began:%Y-%m-%d %H:%M} UTC"
        self.stdout.write(f"Backups made before {when} still hold them: delete them, or keep them locked away.")
        for archive in _archives_before(options["backups"], began):
            self.stdout.write(f"  {archive.name}")


def _archives_before(folder: Path | None, moment: datetime) -> list[Path]:
    if folder is None:
        return []
    archives = [path for path in folder.glob("*.tar.gz") if path.stat().st_mtime < moment.timestamp()]
    return sorted(archives)
