"""When a mail may leave: the pace to one receiving domain, and the quiet hours of a site's zone."""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

BURST = timedelta(seconds=10)
"""How much of the pace may be used at once; more than the beat's interval, so that waiting costs no throughput."""


def places_free(free_at: datetime, now: datetime, per_minute: int) -> int:
    """How many mails may go to the domain at ``now`` (generic cell rate algorithm, ITU-T I.371)."""
    interval = timedelta(minutes=1) / per_minute
    ahead = max(now, free_at)
    return max(0, (now + max(BURST, interval) - ahead) // interval)


def after_sending(free_at: datetime, now: datetime, per_minute: int, mails: int) -> datetime:
    """The domain's next ``free_at`` once ``mails`` more were taken."""
    return max(now, free_at) + mails * timedelta(minutes=1) / per_minute


def quiet_end(now: datetime, zone: ZoneInfo, begins: time | None, ends: time | None) -> datetime | None:
    """The moment (UTC) at which the quiet hours around ``now`` end, or None outside them.

    ``begins`` later than ``ends`` spans midnight; equal or missing means that there are none.
    """
    if begins is None or ends is None or begins == ends:
        return None
    local = now.astimezone(zone)
    clock = local.time().replace(tzinfo=None)
    inside = begins <= clock < ends if begins < ends else clock >= begins or clock < ends
    if not inside:
        return None
    day = local.date() if clock < ends else local.date() + timedelta(days=1)
    return datetime.combine(day, ends, tzinfo=zone).astimezone(UTC)


def next_midnight(now: datetime, zone: ZoneInfo) -> datetime:
    """The next moment (UTC) at which a day begins in ``zone``."""
    tomorrow = now.astimezone(zone).date() + timedelta(days=1)
    return datetime.combine(tomorrow, time(), tzinfo=zone).astimezone(UTC)
