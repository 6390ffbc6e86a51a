"""``manage.py verify_files``: whether every kept file is still what was kept. Exit 1 where one is not."""

from collections import Counter
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from fleet.management.file_check import tell_faults

SENTENCES = {
    "missing": "{} not there",
    "short": "{} shorter than kept",
    "altered": "{} with other content than kept",
    "orphaned": "{} that no row names (left where they are; they harm nothing)",
}


class Command(BaseCommand):
    help = "Compare every kept file with its row: missing, short, altered, and files in the folder that no row names."

    def handle(self, *args: Any, **options: Any) -> None:
        found = Counter(fault.what for fault in tell_faults(self.stdout))
        told = ", ".join(sentence.format(found[what]) for what, sentence in SENTENCES.items() if found[what])
        if any(found[what] for what in ("missing", "short", "altered")):
            raise CommandError(f"Kept files: {told}. Put them back from a backup.", returncode=1)
        self.stdout.write(f"Kept files: {told or 'all whole'}.")
