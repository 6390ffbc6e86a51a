"""Makes an invented fleet of any size, for benchmarks."""

import time
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from fleet.acting import origin
from fleet.models import Company, Site
from fleet.operations.companies import create_company
from fleet.search.loading import index_new_sites, without_marks
from onboarding.management.synthetic.bulk import quick_writing
from onboarding.management.synthetic.catalogue import invent_catalogue
from onboarding.management.synthetic.fleet import Fleet


class Command(BaseCommand):
    help = "Makes an invented fleet: the same every time for an empty database. Five devices and one owner a site."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--sites", type=int, required=True, help="sites in all, shared among the companies")
        parser.add_argument("--companies", type=int, default=1)
        parser.add_argument("--no-index", action="store_true", help="leave the search index as it is")

    def handle(self, *args: Any, **options: Any) -> None:
        sites, companies = options["sites"], options["companies"]
        if companies < 1 or sites < companies:
            raise CommandError("Give at least one company, and at least one site each.")
        started = time.monotonic()
        first = Company.objects.count()
        taken = set(Site.objects.values_list("code", flat=True))
        highest = Site.objects.order_by("-pk").values_list("pk", flat=True).first() or 0
        with quick_writing():
            with without_marks():
                for number in range(companies):
                    share = sites // companies + (1 if number < sites % companies else 0)
                    self._load_company(first + number + 1, share, taken)
            self.stdout.write(f"{sites} sites are there after {time.monotonic() - started:.0f} s.")
            if not options["no_index"]:
                index_new_sites(highest, lambda done: self.stdout.write(f"{done} of {sites} sites indexed"))
                self.stdout.write(f"They can be found after {time.monotonic() - started:.0f} s.")

    def _load_company(self, number: int, sites: int, taken: set[str]) -> None:
        with origin("load_fleet"):
            company, _ = create_company(name=f"Installer {number}", admin_email=f"admin{number}@example.org")
        invent_catalogue(company)
        Fleet(company, seed=number, taken=taken).load(
            sites, lambda done: self.stdout.write(f"{company.name}: {done} of {sites} sites")
        )
