"""``manage.py read_bounce``: one message on standard input, one JSON line out; for a mail server's pipe.

Exit status 75 (EX_TEMPFAIL of sysexits.h) tells the mail server to hand the message in again: it was read, but the
database could not keep it.
"""

import json
import logging
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.db import Error, connection

from fleet.acting import origin
from onboarding.mail.reports import Report, read_report
from onboarding.models import MailReport
from onboarding.operations.bounces import act_on

TRY_AGAIN = 75
log = logging.getLogger(__name__)


class Command(BaseCommand):
    help = "Reads one bounce or complaint on standard input, acts on it, and writes what it says as one JSON line."
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--to", action="append", default=[], help="the address that the message was delivered to")
        parser.add_argument("--dry-run", action="store_true", help="only say what it says; change nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        report = read_report(sys.stdin.buffer.read(), envelope_to=tuple(options["to"]))
        kept = options["dry_run"] or _kept(report)
        self.stdout.write(json.dumps(report.as_document()))
        if not kept:
            sys.exit(TRY_AGAIN)


def _kept(report: Report) -> bool:
    """Act on the report; False where that should be tried again."""
    try:
        with origin("read_bounce"):
            act_on(report)
    except Error:
        log.exception("the report was read but could not be kept")
        return not _may_work_later()
    return True


def _may_work_later() -> bool:
    """Whether the database is out of reach or busy, and not merely empty: an installation that never started."""
    try:
        return MailReport._meta.db_table in connection.introspection.table_names()
    except Error:
        return True
