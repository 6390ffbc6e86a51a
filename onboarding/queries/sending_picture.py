"""What a company's sending looked like, day by day: the numbers, and where their bars stand in the picture."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db.models import Count
from django.db.models.functions import TruncDate
from django.utils import timezone

from fleet.models import Member
from onboarding.models import Delivery

DAYS = 30
HEIGHT = 120
WIDTH = 20
KINDS = ("sent", "failed", "unknown", "stopped", "waiting")
_WAITING = ("queued", "claimed", "transmitting")


@dataclass(frozen=True)
class Bar:
    """One part of a day's column, in the picture's units."""

    kind: str
    x: int
    y: float
    height: float


@dataclass(frozen=True)
class Day:
    """One day with its numbers by kind."""

    day: date
    numbers: dict[str, int]

    @property
    def total(self) -> int:
        """All mails begun that day."""
        return sum(self.numbers.values())


@dataclass(frozen=True)
class Picture:
    """The days, oldest first, the bars, and the highest column's number."""

    days: list[Day]
    bars: list[Bar]
    most: int
    width: int = DAYS * WIDTH
    height: int = HEIGHT


def sending_picture(member: Member) -> Picture:
    """The last 30 days of the member's company, each from midnight to midnight in the company's time zone."""
    zone = ZoneInfo(member.company.policy.default_time_zone)
    today = timezone.localdate(timezone=zone)
    first = today - timedelta(days=DAYS - 1)
    numbers: dict[date, dict[str, int]] = defaultdict(lambda: dict.fromkeys(KINDS, 0))
    rows = (
        Delivery.objects.filter(
            company_id=member.company_id, created_at__gte=datetime.combine(first, time(), tzinfo=zone)
        )
        .annotate(day=TruncDate("created_at", tzinfo=zone))
        .values_list("day", "state")
        .annotate(number=Count("id"))
    )
    for day, state, number in rows:
        numbers[day]["waiting" if state in _WAITING else state] += number
    days = [Day(each, numbers[each]) for each in (first + timedelta(days=step) for step in range(DAYS))]
    most = max(day.total for day in days)
    return Picture(days, [bar for place, day in enumerate(days) for bar in _column(place, day, most)], most)


def _column(place: int, day: Day, most: int) -> list[Bar]:
    bars, top = [], float(HEIGHT)
    for kind in KINDS:
        height = round(HEIGHT * day.numbers[kind] / most, 1) if most else 0
        if height:
            top = round(top - height, 1)
            bars.append(Bar(kind, place * WIDTH + 3, top, height))
    return bars
