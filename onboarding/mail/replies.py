"""What a mail server's reply means for one mail, and how long to wait before trying again.

Reply codes: RFC 5321 section 4.2; enhanced status codes: RFC 3463 and the IANA registry of RFC 5248.
"""

import re
from dataclasses import dataclass
from datetime import timedelta
from random import Random

from onboarding.mail.gone import says_gone

_ENHANCED = re.compile(r"\b([245])\.(\d{1,3})\.(\d{1,3})\b")

TRANSIENT_WAITS: dict[str, tuple[timedelta, timedelta]] = {
    "no_connection": (timedelta(seconds=5), timedelta(minutes=5)),
    "connection_lost": (timedelta(minutes=1), timedelta(minutes=30)),
    "server_busy": (timedelta(minutes=1), timedelta(minutes=30)),
    "try_later": (timedelta(minutes=5), timedelta(hours=2)),
    "mailbox_full": (timedelta(hours=1), timedelta(hours=12)),
    "sender_refused": (timedelta(minutes=10), timedelta(hours=2)),
    "not_composed": (timedelta(hours=1), timedelta(hours=6)),
}
"""Per class of reply, the first wait and the longest; it doubles in between (common practice, no source)."""


@dataclass(frozen=True)
class Reply:
    """One reply: its three-digit code and its text on one line."""

    code: int
    text: str = ""

    @property
    def status(self) -> str:
        """The enhanced status code ``5.1.1`` if the text carries one, else empty."""
        found = _ENHANCED.search(self.text)
        return found.group(0) if found and found.group(1) == str(self.code)[:1] else ""

    @property
    def written(self) -> str:
        """The code as it is kept: the enhanced status where there is one, else the three digits."""
        return self.status or str(self.code)

    @property
    def positive(self) -> bool:
        """2xx and 3xx."""
        return 200 <= self.code < 400

    @property
    def permanent(self) -> bool:
        """5xx: not to be tried again as it is."""
        return 500 <= self.code < 600

    @property
    def gone(self) -> bool:
        """Whether it says clearly that the address does not take mail from anybody, ever."""
        return says_gone(status=self.status, code=self.code, text=self.text)


def transient_class(reply: Reply) -> str:
    """The class of a reply that may turn out better later."""
    if reply.code == 421:
        return "server_busy"
    if reply.code == 452 or reply.status == "4.2.2":
        return "mailbox_full"
    return "try_later"


def wait_before_retry(reply_class: str, attempts: int, random: Random) -> timedelta:
    """The wait after the ``attempts``-th try (from 1): doubling up to the class's longest, with 25 % of jitter."""
    first, longest = TRANSIENT_WAITS[reply_class]
    wait = min(first * 2 ** min(max(attempts, 1) - 1, 20), longest)
    return timedelta(seconds=wait.total_seconds() * random.uniform(0.75, 1.25))
