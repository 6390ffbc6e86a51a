"""An SMTP server that keeps what it is given."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any

from aiosmtpd.controller import Controller

from tests.servers.process import free_port


@dataclass
class Received:
    """One mail as it came over the wire."""

    envelope_from: str
    recipients: list[str]
    data: bytes

    @property
    def message(self) -> EmailMessage:
        """The parsed message."""
        return message_from_bytes(self.data, policy=policy.default)


@dataclass
class Sink:
    """Keeps every mail; ``answer_rcpt`` and ``answer_data`` may say something other than 250."""

    mails: list[Received] = field(default_factory=list)
    answer_rcpt: Callable[[str], str] = lambda address: "250 OK"
    answer_data: Callable[[Received], str] = lambda mail: "250 OK"
    _lock: threading.Lock = field(default_factory=threading.Lock)

    async def handle_RCPT(self, server: Any, session: Any, envelope: Any, address: str, options: list[str]) -> str:  # noqa: N802  # the name is aiosmtpd's
        """aiosmtpd's hook for RCPT TO."""
        answer = self.answer_rcpt(address)
        if answer.startswith("250"):
            envelope.rcpt_tos.append(address)
        return answer

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802  # the name is aiosmtpd's
        """aiosmtpd's hook for a whole message; only an accepted one is kept."""
        mail = Received(envelope.mail_from or "", list(envelope.rcpt_tos), bytes(envelope.content or b""))
        answer = self.answer_data(mail)
        if answer.startswith("250"):
            with self._lock:
                self.mails.append(mail)
        return answer

    def to(self, address: str) -> list[Received]:
        """The mails that came for one address, oldest first."""
        with self._lock:
            return [mail for mail in self.mails if address in mail.recipients]

    def wait_for(self, address: str, *, count: int = 1, seconds: float = 30) -> list[Received]:
        """The mails for ``address`` once there are ``count``; raises AssertionError when they do not come."""
        end = time.monotonic() + seconds
        while len(found := self.to(address)) < count:
            if time.monotonic() > end:
                raise AssertionError(f"{len(found)} mails of {count} came for {address} within {seconds} s")
            time.sleep(0.05)
        return found


class SmtpServer:
    """The sink behind a port on loopback."""

    def __init__(self, *, smtputf8: bool = True, size_limit: int = 33_554_432) -> None:
        self.sink = Sink()
        self.port = free_port()
        self._controller = Controller(
            self.sink,
            hostname="127.0.0.1",
            port=self.port,
            server_hostname="mail.example.org",
            enable_SMTPUTF8=smtputf8,
            data_size_limit=size_limit,
        )
        self._controller.start()

    @property
    def url(self) -> str:
        """What ROOFTALLY_MAIL_URL takes."""
        return f"smtp://127.0.0.1:{self.port}?tls=none"

    def stop(self) -> None:
        """Close the port; mails stay readable."""
        self._controller.stop()
