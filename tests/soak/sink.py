"""An SMTP server that keeps count and, for some recipients, answers as servers do on bad days."""

import asyncio
import logging
import threading
from collections import Counter
from email.parser import BytesHeaderParser
from typing import Any

from aiosmtpd.controller import Controller

from tests.servers.process import free_port

SILENCE = 30.0


class MoodySink:
    """By the first word of the recipient: ``busy`` 421 and ``later`` 450 at first, ``refused`` 550, ``silent`` says
    nothing after the text at first, ``dropped`` takes the text and hangs up. ``delay`` seconds go by before each 250
    after a text.
    """

    def __init__(self, delay: float = 0.0) -> None:
        self.delay = delay
        self.received: Counter[str] = Counter()
        self.unanswered: set[str] = set()
        self._seen: Counter[str] = Counter()
        self._lock = threading.Lock()

    def arrived(self) -> int:
        """How many mails have arrived so far, each counted once."""
        return len(self.received)

    async def handle_RCPT(self, server: Any, session: Any, envelope: Any, address: str, options: list[str]) -> str:  # noqa: N802  # the name is aiosmtpd's
        """Answer by mood."""
        mood = address.partition(".")[0]
        with self._lock:
            self._seen[address] += 1
            first = self._seen[address] == 1
        if mood == "refused":
            return "550 5.1.1 No such mailbox"
        if first and mood == "busy":
            return "421 4.3.2 Closing for a moment"
        if first and mood == "later":
            return "450 4.2.0 Try again later"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802  # the name is aiosmtpd's
        """Keep the Message-ID; then answer, or not."""
        name = str(BytesHeaderParser().parsebytes(envelope.content)["Message-ID"])
        mood = envelope.rcpt_tos[0].partition(".")[0]
        if self.delay:
            await asyncio.sleep(self.delay)
        with self._lock:
            self.received[name] += 1
        if mood in {"silent", "dropped"}:
            self.unanswered.add(name)
            if mood == "silent":
                await asyncio.sleep(SILENCE)
            server.transport.abort()
        return "250 OK"


class MoodyServer:
    """The sink behind a port on loopback."""

    def __init__(self, delay: float = 0.0) -> None:
        self.sink = MoodySink(delay)
        self.port = free_port()
        self._controller = Controller(
            self.sink, hostname="127.0.0.1", port=self.port, server_hostname="sink.example.org"
        )
        self._controller.start()

        logging.getLogger("mail.log").setLevel(logging.ERROR)

    @property
    def url(self) -> str:
        """What ROOFTALLY_MAIL_URL takes."""
        return f"smtp://127.0.0.1:{self.port}?tls=none"

    def stop(self) -> None:
        """Close the port; the counts stay."""
        self._controller.stop()
