"""``manage.py poll_bounces``: fetch reports from ROOFTALLY_MAIL_REPORTS_URL once."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from onboarding.operations.report_polling import NoReportBox, poll_reports


class Command(BaseCommand):
    help = "Fetches unseen reports from the IMAP folder or maildir of the settings, once; beat does it every 5 minutes."

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            done = poll_reports()
        except NoReportBox as error:
            raise CommandError("ROOFTALLY_MAIL_REPORTS_URL is not set, so there is nowhere to look.") from error
        except OSError as error:
            raise CommandError(f"The box could not be read: {error}") from error
        self.stdout.write(f"{done} messages taken in")
