"""``manage.py read_bounce``: one message on standard input, one JSON line out; for a mail server's pipe."""

import json
import logging
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.db import Error

from fleet.acting import origin
from onboarding.mail.reports import read_report
from onboarding.operations.bounces import act_on

log = logging.getLogger(__name__)


class Command(BaseCommand):
    help = "Reads one bounce or complaint on standard input, acts on it, and writes what it says as one JSON line."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--to", action="append", default=[], help="the address that the message was delivered to")
        parser.add_argument("--dry-run", action="store_true", help="only say what it says; change nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        report = read_report(sys.stdin.buffer.read(), envelope_to=tuple(options["to"]))
        if not options["dry_run"]:
            try:
                with origin("read_bounce"):
                    act_on(report)
            except Error:
                log.exception("the report was read but could not be kept")
        self.stdout.write(json.dumps(report.as_document()))
