"""``manage.py unmatched_reports``: what came in and belongs to no delivery; for the operator alone."""

import json
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand

from onboarding.models import MailReport


class Command(BaseCommand):
    help = "Lists reports that matched no delivery, the latest first, one JSON line each."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--limit", type=int, default=100, help="how many at most (100)")

    def handle(self, *args: Any, **options: Any) -> None:
        unmatched = MailReport.objects.filter(delivery__isnull=True).order_by("-received_at", "-pk")
        for report in unmatched[: options["limit"]]:
            self.stdout.write(
                json.dumps(
                    {
                        "received_at": report.received_at.isoformat(),
                        "kind": report.kind,
                        "outcome": report.outcomes,
                        "recipients": report.facts.get("recipients", []),
                    },
                    ensure_ascii=False,
                )
            )
