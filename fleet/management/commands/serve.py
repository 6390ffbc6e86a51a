"""Runs everything in one process: pages, API and background work."""

import signal
import threading
from argparse import ArgumentParser
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.management.base import BaseCommand, CommandError

from fleet.management.embedded.certificate import own_certificate
from fleet.management.embedded.prepare import prepare
from fleet.management.embedded.run import Embedded, application
from fleet.management.embedded.web import THREADS, AddressTaken, bound_socket

NO_MAIL = "Mail is held: ROOFTALLY_MAIL_URL is not set. Invitations wait until it is; nothing is lost."


class Command(BaseCommand):
    help = "Serves Rooftally from this one process: pages, API, jobs and their schedule. Stops on Ctrl-C or SIGTERM."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on; 0.0.0.0 for every one")
        parser.add_argument("--port", type=int, default=None, help="port; that of ROOFTALLY_BASE_URL unless given")
        parser.add_argument("--certificate", type=Path, help="serve HTTPS with this certificate chain (PEM)")
        parser.add_argument("--key", type=Path, help="the certificate's key (PEM)")
        parser.add_argument("--self-signed", action="store_true", help="serve HTTPS with a certificate made here")

    def handle(self, *args: Any, **options: Any) -> None:
        base = urlsplit(settings.BASE_URL)
        port = options["port"] or base.port or (443 if base.scheme == "https" else 8000)
        pair = self._certificate(options, base.hostname or "localhost")
        prepare()
        self.stdout.write(f"Rooftally answers at {settings.BASE_URL} (listening on {options['host']} port {port}).")
        if not settings.MAIL_URL:
            self.stdout.write(NO_MAIL)
        self.stdout.flush()
        try:
            if pair is None:
                serve_until_told(Embedded(bound_socket(options["host"], port)))
            else:
                _serve_https(options["host"], port, pair)
        except AddressTaken as error:
            raise CommandError(str(error)) from error

    def _certificate(self, options: dict[str, Any], host: str) -> tuple[Path, Path] | None:
        certificate, key = options["certificate"], options["key"]
        if bool(certificate) != bool(key):
            raise CommandError("--certificate and --key go together.")
        if not (certificate or options["self_signed"]):
            return None
        if not settings.HTTPS:
            raise CommandError(
                "Set ROOFTALLY_BASE_URL to the https:// address that people will use: links, cookies and the "
                "certificate all carry it."
            )
        if certificate:
            for path in (certificate, key):
                if not path.is_file():
                    raise CommandError(f"{path} is not there.")
            return certificate, key
        names = list(dict.fromkeys([host, "localhost", "127.0.0.1"]))
        return own_certificate(settings.DATA_DIR / "tls", names)


def serve_until_told(embedded: Embedded) -> None:
    """Serve until SIGTERM or SIGINT, then stop within 5 seconds."""
    told = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: told.set())
    embedded.start()
    told.wait()
    embedded.stop()


def _serve_https(host: str, port: int, pair: tuple[Path, Path]) -> None:
    from fleet.management.embedded.https import Https

    bound_socket(host, port).close()  # says in our words when the address is taken
    Https(application(), host=host, port=port, certificate=pair[0], key=pair[1], threads=THREADS).run()
