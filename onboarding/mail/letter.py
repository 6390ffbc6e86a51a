"""One mail ready for the wire: its parts, its envelope, and its bytes (RFC 5322, RFC 8058, RFC 3834)."""

import re
from dataclasses import dataclass
from datetime import datetime
from email.headerregistry import Address
from email.message import EmailMessage
from email.policy import EmailPolicy
from email.utils import format_datetime
from functools import cached_property
from typing import Any

from onboarding.mail.addresses import UsableAddress

_SPACES = re.compile(r"[\s\x00-\x1f\x7f-\x9f\u2028\u2029]+")
_UNFOLDED = frozenset({"list-unsubscribe", "message-id"})


def one_line(text: str, longest: int = 200) -> str:
    """``text`` without line breaks or control characters, so that it cannot begin another header or paragraph."""
    return _SPACES.sub(" ", text).strip()[:longest]


class _LetterPolicy(EmailPolicy):
    """SMTP's line ends; URLs and message ids are never broken or encoded (the library encodes long words)."""

    def fold_binary(self, name: str, value: Any) -> bytes:
        """One header as it goes on the wire."""
        if name.lower() in _UNFOLDED:
            return f"{name}: {value}\r\n".encode("ascii")
        return super().fold_binary(name, value)


_POLICY = _LetterPolicy(linesep="\r\n", cte_type="7bit")


@dataclass(frozen=True)
class Letter:
    """A mail and its envelope. ``leave_url`` is empty on streams that rest on no permission."""

    to: UsableAddress
    return_path: str
    message_id: str
    written_at: datetime
    sender_name: str
    sender_address: str
    reply_to: str
    language: str
    subject: str
    text: str
    html: str
    leave_url: str = ""

    @property
    def needs_smtputf8(self) -> bool:
        """Whether only a server that offers SMTPUTF8 can take it (RFC 6531)."""
        return self.to.ascii is None

    def headers(self) -> dict[str, str]:
        """The headers beyond addresses, subject and dates."""
        headers = {"Auto-Submitted": "auto-generated", "Content-Language": self.language}
        if self.leave_url:
            headers["List-Unsubscribe"] = f"<{self.leave_url}>"
            headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
        return headers

    def as_message(self) -> EmailMessage:
        """The message with a text part and an HTML alternative."""
        message = EmailMessage(policy=_POLICY.clone(utf8=self.needs_smtputf8))
        message["From"] = Address(display_name=one_line(self.sender_name, 120), addr_spec=self.sender_address)
        message["To"] = self.to.on_the_wire
        if self.reply_to:
            message["Reply-To"] = Address(display_name=one_line(self.sender_name, 120), addr_spec=self.reply_to)
        message["Subject"] = one_line(self.subject)
        message["Date"] = format_datetime(self.written_at)
        message["Message-ID"] = self.message_id
        for name, value in self.headers().items():
            message[name] = value
        message.set_content(self.text, charset="utf-8")
        message.add_alternative(self.html, subtype="html", charset="utf-8")
        return message

    @cached_property
    def wire(self) -> bytes:
        """The message as it goes on the wire, with CRLF line ends."""
        return self.as_message().as_bytes(policy=_POLICY.clone(utf8=self.needs_smtputf8))
