"""Ways to put a letter on the wire, and what one try came to.

A channel works in two steps, because permission is checked between them: ``prepare`` goes as far as the recipient being
accepted and leaves nothing behind; ``transmit`` sends the text. What raises in ``prepare`` may always be tried again.
"""

from dataclasses import dataclass
from enum import Enum
from typing import Protocol
from urllib.parse import SplitResult, parse_qsl, unquote, urlsplit

from onboarding.mail.letter import Letter
from onboarding.mail.replies import Reply


class Fate(Enum):
    """What one try came to."""

    SENT = "sent"
    LATER = "later"
    REFUSED = "refused"
    UNKNOWN = "unknown"
    CANNOT = "cannot"


@dataclass(frozen=True)
class Outcome:
    """The fate of one try, its class in one word, and the server's reply where there was one.

    ``about_server`` says that the mail server itself is out of reach, so that other mails need not try. ``provider_id``
    is the provider's own name for a mail that it took, where there is a provider.
    """

    fate: Fate
    reply_class: str
    reply: Reply | None = None
    about_server: bool = False
    provider_id: str = ""

    @property
    def code(self) -> str:
        """The code to keep, empty where no server spoke."""
        return self.reply.written if self.reply else ""

    @property
    def gone(self) -> bool:
        """Whether the address does not take mail from anybody, ever."""
        return self.fate is Fate.REFUSED and self.reply is not None and self.reply.gone


class NotPrepared(Exception):
    """The recipient was not reached or not accepted; nothing of the letter had left. ``outcome`` says what then."""

    def __init__(self, outcome: Outcome) -> None:
        super().__init__(outcome.reply_class)
        self.outcome = outcome


class Channel(Protocol):
    """One way out, used for one letter after another by one thread."""

    def prepare(self, letter: Letter) -> None:
        """Go as far as the recipient being accepted. Raises NotPrepared."""

    def transmit(self, letter: Letter) -> Outcome:
        """Send the text of the prepared letter; never raises."""

    def abandon(self) -> None:
        """Forget the prepared letter; nothing of it leaves."""

    def close(self) -> None:
        """Say goodbye; never raises."""


class Transport(Protocol):
    """Opens channels."""

    def channel(self) -> Channel:
        """A channel that is not connected yet."""


@dataclass(frozen=True)
class MailUrl:
    """``ROOFTALLY_MAIL_URL`` taken apart; ``repr`` shows no secret."""

    scheme: str
    host: str
    port: int | None
    user: str
    password: str
    options: dict[str, str]

    def __repr__(self) -> str:
        return f"MailUrl({self.scheme}://{self.host})"


def read_mail_url(url: str) -> MailUrl:
    """The parts of a mail URL, percent-decoded."""
    parts: SplitResult = urlsplit(url)
    return MailUrl(
        scheme=parts.scheme,
        host=parts.hostname or "",
        port=parts.port,
        user=unquote(parts.username or ""),
        password=unquote(parts.password or ""),
        options=dict(parse_qsl(parts.query)),
    )
