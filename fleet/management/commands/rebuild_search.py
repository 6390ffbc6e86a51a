"""Write the search index anew."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils.translation import gettext as _

from fleet.models import SearchRebuild, Site
from fleet.search.rebuild import rebuild


class Command(BaseCommand):
    """Online and resumable: searches go on meanwhile, and a second start takes up where the first was cut off."""

    help = "Write the search index of all companies anew, while the house goes on working."

    def add_arguments(self, parser: ArgumentParser) -> None:
        """Where to begin."""
        parser.add_argument("--afresh", action="store_true", help="forget how far an unfinished rebuild had come")

    def handle(self, *args: Any, **options: Any) -> None:
        """Rebuild, telling how far it is."""
        total = Site.objects.count()

        def tell(progress: SearchRebuild) -> None:
            if progress.sites_done % 10_000 < 500 and not progress.finished_at:
                self.stdout.write(_("%(done)d of %(total)d sites") % {"done": progress.sites_done, "total": total})

        done = rebuild(afresh=options["afresh"], tell=tell)
        self.stdout.write(_("The index was written anew for %(done)d sites.") % {"done": done.sites_done})
