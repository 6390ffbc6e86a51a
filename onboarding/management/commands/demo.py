"""Loads the demo, shows the whole job over HTTP, then keeps serving it on this machine alone."""

import os
import signal
import socket
import sys
import threading
import time
from argparse import ArgumentParser
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connection

from fleet.acting import origin
from fleet.management.embedded.prepare import prepare
from fleet.management.embedded.run import Embedded
from fleet.management.embedded.web import AddressTaken, bound_socket
from fleet.models import Company, Scan
from onboarding.management.demo.data import SITES, load
from onboarding.management.demo.people import COMPANY, STAFF, SignIn, sign_ins
from onboarding.management.demo.story import Job

HOST, PORT = "127.0.0.1", 8000


class Command(BaseCommand):
    help = "The invented installer Telhado Claro on this machine alone: loads it, shows the whole job, serves it."
    requires_system_checks = ()

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--exit", action="store_true", help="end after the job: 0 when every step came out, else 1")
        parser.add_argument(
            "--port", type=int, help=f"port of this machine to serve at; {PORT}, or a free one, unless given"
        )
        parser.add_argument(
            "--sites", type=int, default=SITES, help=f"sites at the first start; {SITES:,} unless given"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            port = self._free_port(options["port"])
            _start_over_as_demo(port, ["--sites", str(options["sites"]), *(["--exit"] if options["exit"] else [])])
        embedded = Embedded(_listening(urlsplit(settings.BASE_URL).port or PORT))
        known = sign_ins(settings.DATA_DIR / "sign-ins.json")
        self._load(known, options["sites"])
        told = threading.Event()
        for number in (signal.SIGTERM, signal.SIGINT):
            signal.signal(number, lambda *_: told.set())
        embedded.start()
        self.stdout.write(f"\nServing at {settings.BASE_URL}. Now the whole job, over HTTP:")
        done = Job(settings.BASE_URL, known[STAFF[2][1]], _next_number(), self._say).run()
        if not options["exit"]:
            self._print_addresses(known)
            told.wait()
        embedded.stop()
        if not done:
            raise CommandError("A step of the job failed; see above.")
        self._say("The whole job went through." if options["exit"] else "Stopped.")

    def _free_port(self, wanted: int | None) -> int:
        """The port that was asked for, else the usual one, else a free one, and says so."""
        if wanted is not None:
            return _freed(_listening(wanted))
        try:
            return _freed(bound_socket(HOST, PORT))
        except AddressTaken:
            port = _freed(bound_socket(HOST, 0))
        self._say(f"Port {PORT} is taken by another program; the demo takes port {port}.")
        return port

    def _load(self, known: dict[str, SignIn], sites: int) -> None:
        started = time.monotonic()
        prepare()
        if Company.objects.filter(name=COMPANY).exists():
            self._say(f"{COMPANY} is loaded already.")
            return
        self._say(f"Loading {COMPANY}, an invented installer …")
        with origin("demo"):
            load(known, lambda line: self._say(f"  {line}"), sites=sites)
        call_command("verify_consents", stdout=self.stdout)
        self._say(f"Loaded in {time.monotonic() - started:.0f} s.")

    def _print_addresses(self, known: dict[str, SignIn]) -> None:
        self._say(f"\nOpen {settings.BASE_URL} and sign in:")
        for each in known.values():
            self._say(f"  {each.who:36} {each.email:36} {each.password}")
        self._say(f"Mailbox: {settings.BASE_URL}/mailbox/    API: {settings.BASE_URL}/api/v1/    Stop with Ctrl-C.")

    def _say(self, line: str) -> None:
        self.stdout.write(line)
        self.stdout.flush()


def _next_number() -> int:
    number = Scan.objects.filter(payload__contains="/21/DEMO").count() + 1
    connection.close()
    return number


def _listening(port: int) -> socket.socket:
    try:
        return bound_socket(HOST, port)
    except AddressTaken as error:
        raise CommandError(
            f"{error} Another program may use it. Nothing was loaded or changed: give another port with --port."
        ) from error


def _freed(listener: socket.socket) -> int:
    port: int = listener.getsockname()[1]
    listener.close()
    return port


def _start_over_as_demo(port: int, arguments: list[str]) -> None:
    """Run this command again with the demo's own settings: settings are read once, at the start of a process."""
    data = Path(settings.PROJECT_DIR) / "var" / "demo"
    data.mkdir(parents=True, exist_ok=True)
    kept = {name: value for name, value in os.environ.items() if not name.startswith("ROOFTALLY_")}
    demo = {
        "ROOFTALLY_DEMO": "yes",
        "ROOFTALLY_DATA_DIR": os.environ.get("ROOFTALLY_DATA_DIR", str(data)),
        "ROOFTALLY_BASE_URL": f"http://{HOST}:{port}",
        "ROOFTALLY_MAIL_URL": "mailbox:",
        "ROOFTALLY_LOG_LEVEL": "WARNING",
    }
    sys.stdout.flush()
    os.execve(sys.executable, [sys.executable, sys.argv[0], "demo", *arguments], kept | demo)  # noqa: S606  # ourselves
