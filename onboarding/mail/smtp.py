"""SMTP in detail (RFC 5321): one connection kept open, the recipient first, the text only after leave was given.

Whether a mail has left is decided by its final dot: before that was handed over whole, a server must not deliver
(RFC 5321 section 4.1.1.4); after it, only a reply tells.
"""

import re
import smtplib
import socket
import ssl
import time
from dataclasses import dataclass

from onboarding.mail.letter import Letter
from onboarding.mail.replies import Reply, transient_class
from onboarding.mail.transport import Fate, MailUrl, NotPrepared, Outcome

PORTS = {"none": 25, "start": 587, "yes": 465}
TEXT_PATIENCE = 4
IDLE_SECONDS = 20.0
_LOST = (smtplib.SMTPServerDisconnected, OSError)
_DOTS = re.compile(rb"(?m)^\.")


@dataclass(frozen=True)
class SmtpTransport:
    """A mail server. ``tls``: ``none``, ``start`` (STARTTLS, required), ``yes`` (from the first byte)."""

    host: str
    port: int
    user: str
    password: str
    tls: str
    timeout: float
    hello: str

    def channel(self) -> "SmtpChannel":
        """A channel that connects when first needed."""
        return SmtpChannel(self)


def smtp_transport(url: MailUrl, *, timeout: float, hello: str) -> SmtpTransport:
    """The transport that a ``smtp://`` URL describes. Raises ValueError for an unknown ``tls``."""
    tls = url.options.get("tls", "start" if url.user else "none")
    if tls not in PORTS:
        raise ValueError("tls takes none, start or yes")
    return SmtpTransport(url.host, url.port or PORTS[tls], url.user, url.password, tls, timeout, hello)


class SmtpChannel:
    """One SMTP connection, opened again when it was lost."""

    def __init__(self, server: SmtpTransport) -> None:
        self._server = server
        self._line: smtplib.SMTP | None = None
        self._used = 0.0

    def prepare(self, letter: Letter) -> None:
        """MAIL FROM and RCPT TO. A connection lost while idle is opened anew once."""
        idle = self._line is not None
        try:
            self._offer(letter)
        except _LOST:
            self._drop()
            if not idle:
                raise NotPrepared(Outcome(Fate.LATER, "connection_lost")) from None
            self._offer_again(letter)

    def transmit(self, letter: Letter) -> Outcome:
        """DATA and the text."""
        line = self._line
        if line is None:
            return Outcome(Fate.LATER, "connection_lost")
        try:
            begun = _reply(line.docmd("DATA"))
        except _LOST:
            self._drop()
            return Outcome(Fate.LATER, "connection_lost")  # not a byte of the text was handed over
        if begun.code != 354:
            return self._refused(begun)
        return self._send_text(line, letter)

    def abandon(self) -> None:
        """RSET."""
        try:
            if self._line:
                self._line.rset()
        except (smtplib.SMTPException, OSError):
            self._drop()

    def close(self) -> None:
        """QUIT."""
        line, self._line = self._line, None
        if line is None:
            return
        try:
            if line.sock:
                line.sock.settimeout(1.0)
            line.quit()
        except (smtplib.SMTPException, OSError):
            line.close()

    def _offer_again(self, letter: Letter) -> None:
        try:
            self._offer(letter)
        except _LOST:
            self._drop()
            raise NotPrepared(Outcome(Fate.LATER, "connection_lost")) from None

    def _offer(self, letter: Letter) -> None:
        if self._line and time.monotonic() - self._used > IDLE_SECONDS:
            self.close()
        line = self._line or self._connect()
        self._used = time.monotonic()
        if letter.needs_smtputf8 and not line.has_extn("smtputf8"):
            raise NotPrepared(Outcome(Fate.CANNOT, "needs_smtputf8"))
        options = ["SMTPUTF8", "BODY=8BITMIME"] if letter.needs_smtputf8 else []
        line.command_encoding = "utf-8" if letter.needs_smtputf8 else "ascii"
        self._expect(_reply(line.mail(letter.return_path, options)), from_recipient=False)
        self._expect(_reply(line.rcpt(letter.to.on_the_wire)), from_recipient=True)

    def _expect(self, reply: Reply, *, from_recipient: bool) -> None:
        if reply.positive:
            return
        if reply.code == -1:
            raise smtplib.SMTPServerDisconnected("no reply")
        outcome = self._refused(reply)
        if outcome.fate is Fate.REFUSED and not from_recipient:
            outcome = Outcome(Fate.LATER, "sender_refused", reply)  # our own affair, not this mail's
        raise NotPrepared(outcome)

    def _send_text(self, line: smtplib.SMTP, letter: Letter) -> Outcome:
        if line.sock is None:
            return Outcome(Fate.LATER, "connection_lost")
        try:
            line.sock.settimeout(self._server.timeout * TEXT_PATIENCE)
            line.sock.sendall(_DOTS.sub(b"..", letter.wire) + b".\r\n")
        except OSError:
            self._drop()
            return Outcome(Fate.LATER, "connection_lost")  # the final dot was not handed over
        try:
            reply = _reply(line.getreply())
        except (smtplib.SMTPException, OSError):
            self._drop()
            return Outcome(Fate.UNKNOWN, "no_answer_after_text")
        if line.sock:
            line.sock.settimeout(self._server.timeout)
        if 200 <= reply.code < 300:
            return Outcome(Fate.SENT, "accepted", reply)
        return self._refused(reply)

    def _refused(self, reply: Reply) -> Outcome:
        if reply.code == 421:
            self._drop()
        else:
            self.abandon()
        if reply.permanent:
            return Outcome(Fate.REFUSED, "no_such_address" if reply.gone else "refused", reply)
        return Outcome(Fate.LATER, transient_class(reply), reply)

    def _connect(self) -> smtplib.SMTP:
        server = self._server
        try:
            line = self._dial()
            if server.tls == "start":
                line.starttls(context=ssl.create_default_context())
                line.ehlo()
            if server.user:
                line.login(server.user, server.password)
        except smtplib.SMTPResponseException as error:
            reply = Reply(error.smtp_code, _text(error.smtp_error))
            raise NotPrepared(Outcome(Fate.LATER, "no_connection", reply, about_server=True)) from error
        except OSError as error:  # smtplib's own exceptions are among them
            raise NotPrepared(Outcome(Fate.LATER, "no_connection", about_server=True)) from error
        self._line = line
        return line

    def _dial(self) -> smtplib.SMTP:
        server = self._server
        if server.tls == "yes":
            line: smtplib.SMTP = smtplib.SMTP_SSL(
                server.host,
                server.port,
                server.hello,
                timeout=server.timeout,
                context=ssl.create_default_context(),
            )
        else:
            line = smtplib.SMTP(server.host, server.port, server.hello, timeout=server.timeout)
        if line.sock:
            line.sock.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        line.ehlo_or_helo_if_needed()
        return line

    def _drop(self) -> None:
        line, self._line = self._line, None
        if line is not None:
            line.close()


def _reply(answer: tuple[int, bytes]) -> Reply:
    code, text = answer
    return Reply(code, _text(text))


def _text(raw: bytes | str) -> str:
    text = raw.decode("utf-8", "replace") if isinstance(raw, bytes) else raw
    return " ".join(text.split())[:500]
