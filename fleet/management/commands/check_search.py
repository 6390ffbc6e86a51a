"""Prove that the search index and the tables agree."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils.translation import gettext as _

from fleet.search.check import differences


class Command(BaseCommand):
    """Exits with 1 and names the sites where they do not."""

    help = "Compare the search index with the tables; exit with 1 where they differ."

    def handle(self, *args: Any, **options: Any) -> None:
        """Compare everything."""
        found = differences()
        for difference in found[:50]:
            self.stdout.write(f"{difference.site_id} {difference.what}")
        if found:
            raise CommandError(
                _("The index differs from the tables in %(count)d places. Run rebuild_search.") % {"count": len(found)}
            )
        self.stdout.write(_("Index and tables agree."))
