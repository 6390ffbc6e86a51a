"""Fetching reports from the box of the settings."""

from django.conf import settings

from fleet.acting import origin
from onboarding.mail.report_boxes import fetch_reports
from onboarding.operations.bounces import forget_old_reports, take_in


class NoReportBox(Exception):
    """No box is set."""


def poll_reports() -> int:
    """Take in what lies unseen in the box; answers how many. Raises NoReportBox, OSError."""
    if not settings.MAIL_REPORTS_URL:
        raise NoReportBox
    with origin("poll_bounces"):
        return fetch_reports(settings.MAIL_REPORTS_URL, _take)


def poll_if_set() -> None:
    """The same for the clock: nothing where no box is set; old reports go."""
    forget_old_reports()
    if settings.MAIL_REPORTS_URL:
        poll_reports()


def _take(raw: bytes) -> None:
    take_in(raw)
