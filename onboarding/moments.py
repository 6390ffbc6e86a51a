"""Calendar arithmetic on moments."""

import calendar
from datetime import datetime


def months_later(moment: datetime, months: int) -> datetime:
    """The same day and time ``months`` later; the month's last day where that day does not exist."""
    years, month = divmod(moment.month - 1 + months, 12)
    year, month = moment.year + years, month + 1
    return moment.replace(year=year, month=month, day=min(moment.day, calendar.monthrange(year, month)[1]))
