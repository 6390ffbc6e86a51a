"""A consistent copy of the embedded installation while it runs."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from fleet.management.copying import BackupFailed, write_backup
from fleet.management.file_check import tell_faults


class Command(BaseCommand):
    help = (
        "Writes the embedded database, files and keys into one archive, consistent although people go on working. "
        "Whoever holds it can read everything: keep it as you keep the machine. DEVELOPERS.md says how to restore."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the archive to write, for example rooftally-2026-11-25.tar.gz")

    def handle(self, *args: Any, **options: Any) -> None:
        if connection.vendor != "sqlite":
            raise CommandError("This copies the embedded database. For PostgreSQL use pg_dump, and copy the files.")
        try:
            written = write_backup(
                database=Path(str(settings.DATABASES["default"]["NAME"])), data=settings.DATA_DIR, to=options["file"]
            )
        except BackupFailed as error:
            raise CommandError(str(error)) from error
        self.stdout.write(f"{options['file']}: the database, {written} files and keys, checked.")
        lost = sum(fault.is_loss for fault in tell_faults(self.stdout))
        if lost:
            raise CommandError(
                f"The archive was written, but {lost} file(s) are not what was once kept. Keep the older archives.",
                returncode=1,
            )
