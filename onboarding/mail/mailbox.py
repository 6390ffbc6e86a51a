"""The demo's transport: a folder of letters that only this machine's mailbox page shows."""

import os
import re
from dataclasses import dataclass
from datetime import UTC, datetime
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from pathlib import Path

from onboarding.mail.letter import Letter
from onboarding.mail.replies import Reply
from onboarding.mail.transport import Fate, Outcome

_NAME = re.compile(r"\+([0-9a-f]{32})@")


@dataclass(frozen=True)
class MailboxTransport:
    """Letters are kept as files in ``folder``."""

    folder: Path

    def channel(self) -> "MailboxTransport":
        """Itself: there is no connection."""
        return self

    def prepare(self, letter: Letter) -> None:
        """Every recipient is taken."""

    def transmit(self, letter: Letter) -> Outcome:
        """Keep the letter under its return token; the same send twice is one file."""
        found = _NAME.search(letter.return_path)
        if found is None:
            return Outcome(Fate.CANNOT, "no_return_token")
        self.folder.mkdir(parents=True, exist_ok=True)
        fresh = self.folder / f".{found.group(1)}.{os.getpid()}"
        fresh.write_bytes(letter.wire)
        fresh.replace(self.folder / f"{found.group(1)}.eml")
        return Outcome(Fate.SENT, "accepted", Reply(250, "kept in the mailbox"))

    def abandon(self) -> None:
        """Nothing was kept."""

    def close(self) -> None:
        """There is no connection."""


@dataclass(frozen=True)
class KeptLetter:
    """One letter of the mailbox, read back."""

    name: str
    kept_at: datetime
    to: str
    sender: str
    subject: str
    text: str
    html: str
    headers: tuple[tuple[str, str], ...]


def kept_letters(folder: Path, most: int = 100) -> list[KeptLetter]:
    """The latest letters first."""
    paths = sorted(folder.glob("*.eml"), key=lambda path: path.stat().st_mtime_ns, reverse=True)
    return [_read(path) for path in paths[:most]]


def kept_letter(folder: Path, name: str) -> KeptLetter | None:
    """The letter called ``name`` (32 hexadecimal digits), or None."""
    if not re.fullmatch(r"[0-9a-f]{32}", name):
        return None
    path = folder / f"{name}.eml"
    return _read(path) if path.is_file() else None


def _read(path: Path) -> KeptLetter:
    message = message_from_bytes(path.read_bytes(), policy=default)
    return KeptLetter(
        name=path.stem,
        kept_at=datetime.fromtimestamp(path.stat().st_mtime, UTC),
        to=str(message["To"]),
        sender=str(message["From"]),
        subject=str(message["Subject"]),
        text=_part(message, "plain"),
        html=_part(message, "html"),
        headers=tuple((name, str(value)) for name, value in message.items()),
    )


def _part(message: EmailMessage, kind: str) -> str:
    body = message.get_body(preferencelist=(kind,))
    return str(body.get_content()) if body else ""
