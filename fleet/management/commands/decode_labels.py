import datetime as dt
import sys
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from fleet.labels.jsonlines import decode_lines
from fleet.labels.reading import DecodeOptions


class Command(BaseCommand):
    help = (
        "Decode labels: reads JSON lines {id, payload, symbology?} (or {id, codes}) on standard input "
        "and writes one JSON line each with the facts, or with refuse and reason. Touches no database."
    )
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--link-domain", action="append", default=[], metavar="HOST", help="a listed domain")
        parser.add_argument("--today", type=dt.date.fromisoformat, help="the day for two-digit years; today if absent")

    def handle(self, *args: Any, **options: Any) -> None:
        decoding = DecodeOptions(
            today=options["today"] or dt.datetime.now(dt.UTC).date(),
            link_domains=frozenset(map(str.lower, options["link_domain"])),
            base_urls=(settings.BASE_URL,),
        )
        for line in decode_lines(sys.stdin, decoding):
            self.stdout.write(line)
