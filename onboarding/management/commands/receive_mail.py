"""``manage.py receive_mail``: a port of our own for reports, LMTP or SMTP. Off unless started; relays nothing."""

import asyncio
import logging
import re
import signal
from argparse import ArgumentParser
from collections.abc import Callable
from functools import partial
from typing import Any

from aiosmtpd.lmtp import LMTP
from aiosmtpd.smtp import SMTP
from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import Error, close_old_connections

from fleet.acting import origin
from onboarding.mail.reports import LARGEST
from onboarding.operations.bounces import take_in

log = logging.getLogger(__name__)
PATIENCE = 60.0
MOST_RECIPIENTS = 20


class Intake:
    """aiosmtpd's hooks: only our own return addresses are recipients, and nothing is passed on."""

    def __init__(self) -> None:
        local, _at, domain = str(settings.MAIL_RETURN or settings.MAIL_FROM).rpartition("@")
        self._ours = re.compile(rf"{re.escape(local)}(\+[0-9a-f]{{32}})?@{re.escape(domain)}", re.IGNORECASE)

    async def handle_RCPT(self, server: Any, session: Any, envelope: Any, address: str, options: list[str]) -> str:  # noqa: N802  # the name is aiosmtpd's
        """Refuse every address but a return address."""
        if not self._ours.fullmatch(address):
            return "550 5.7.1 This port takes reports on our own mail only"
        if len(envelope.rcpt_tos) >= MOST_RECIPIENTS:
            return "452 4.5.3 Too many recipients"
        envelope.rcpt_tos.append(address)
        return "250 2.1.5 OK"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802  # the name is aiosmtpd's
        """Take the message in; a database that is away makes the sender try again."""
        taken = await asyncio.to_thread(_take, bytes(envelope.content or b""), tuple(envelope.rcpt_tos))
        answer = "250 2.0.0 Taken in" if taken else "451 4.3.0 Try again later"
        # LMTP answers once for each recipient (RFC 2033 section 4.2), which aiosmtpd leaves to us.
        return "\r\n".join([answer] * len(envelope.rcpt_tos)) if isinstance(server, LMTP) else answer


def _take(raw: bytes, recipients: tuple[str, ...]) -> bool:
    close_old_connections()
    try:
        with origin("receive_mail"):
            take_in(raw, envelope_to=recipients)
    except Error:
        log.exception("a report could not be kept; its sender is asked to try again")
        return False
    finally:
        close_old_connections()
    return True


class Command(BaseCommand):
    help = "Opens a port that takes reports on our own mail: LMTP for a mail server on this machine, or SMTP."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on (127.0.0.1)")
        parser.add_argument("--port", type=int, required=True, help="port to listen on")
        parser.add_argument("--smtp", action="store_true", help="speak SMTP instead of LMTP")

    def handle(self, *args: Any, **options: Any) -> None:
        asyncio.run(self._serve(options["host"], options["port"], SMTP if options["smtp"] else LMTP))

    async def _serve(self, host: str, port: int, protocol: Callable[..., Any]) -> None:
        stop = asyncio.Event()
        loop = asyncio.get_running_loop()
        for number in (signal.SIGTERM, signal.SIGINT):
            loop.add_signal_handler(number, stop.set)
        make = partial(
            protocol,
            Intake(),
            data_size_limit=LARGEST,
            timeout=PATIENCE,
            hostname="reports.invalid",
            ident="reports",
            enable_SMTPUTF8=True,
        )
        server = await loop.create_server(make, host, port)
        self.stdout.write(f"taking reports on {host}:{port}", ending="\n")
        self.stdout.flush()
        async with server:
            await stop.wait()
