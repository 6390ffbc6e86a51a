"""Mails a second: the sender beside raw smtplib, to the same server, which answers a text after 0 ms and after 50 ms.

``python -m tests.benchmarks.mail [--mails N]``: on an embedded database of its own. The server is a process of its own,
so that it takes no time from either. Figures depend on the machine; they are printed, never asserted.
"""

import argparse
import asyncio
import json
import os
import shutil
import signal
import smtplib
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from tests.servers.process import Server, answers, free_port, scratch_folder

PROJECT = Path(__file__).resolve().parent.parent.parent


def main() -> None:
    """Print a line for each delay."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.mail")
    parser.add_argument("--mails", type=int, default=200)
    parser.add_argument("--serve", nargs=2, metavar=("PORT", "DELAY"), help=argparse.SUPPRESS)
    parser.add_argument("--send", action="store_true", help=argparse.SUPPRESS)
    chosen = parser.parse_args()
    if chosen.serve:
        asyncio.run(_serve(int(chosen.serve[0]), float(chosen.serve[1])))
    elif chosen.send:
        print(json.dumps({"seconds": _send_all()}))
    else:
        for delay in (0.0, 0.05):
            print(json.dumps(compare(chosen.mails, delay)), flush=True)


def compare(mails: int, delay: float) -> dict[str, float]:
    """Mails a second of both at this delay, and how the sender compares."""
    folder, port = scratch_folder(), free_port()
    me = [sys.executable, "-m", "tests.benchmarks.mail"]
    server = Server([*me, "--serve", str(port), str(delay)], log=folder / "sink", cwd=PROJECT)
    try:
        server.wait_until(lambda: answers(port))
        environment = _environment(folder / "data", port)
        run = lambda *words: subprocess.run([sys.executable, *words], cwd=PROJECT, env=environment, check=True)  # noqa: E731
        run("manage.py", "migrate", "--verbosity=0")
        run("-m", "tests.soak.load", str(mails), "bench")
        raw = mails / _raw(port, mails)
        done = subprocess.run([*me, "--send"], cwd=PROJECT, env=environment, check=True, capture_output=True, text=True)
        ours = mails / json.loads(done.stdout.splitlines()[-1])["seconds"]
    finally:
        server.stop(signal.SIGTERM)
        shutil.rmtree(folder, ignore_errors=True)
    return {
        "answer_ms": delay * 1000, "mails": mails, "smtplib_per_s": round(raw, 1), "sender_per_s": round(ours, 1),
        "ratio": round(ours / raw, 2),
    }  # fmt: skip


def _raw(port: int, mails: int) -> float:
    """Seconds that smtplib needs on one connection for mails of the same size, written beforehand."""
    text = b"From: a@example.org\r\nTo: b@example.net\r\nSubject: x\r\n\r\n" + b"words and more words.\r\n" * 200
    with smtplib.SMTP("127.0.0.1", port, "localhost") as line:
        began = time.perf_counter()
        for number in range(mails):
            line.sendmail("a@example.org", [f"fine.{number}@example.net"], text)
        return time.perf_counter() - began


def _send_all() -> float:
    """Seconds that the sender needs until nothing is queued any more, in a process that has its URLs loaded."""
    import django

    django.setup()
    from django.urls import reverse

    from onboarding.models import Delivery
    from onboarding.operations.sending import sweep_deliveries

    reverse("onboarding:mine")
    began = time.perf_counter()
    while sweep_deliveries():
        continue
    took = time.perf_counter() - began
    left = Delivery.objects.exclude(state="sent").count()
    if left:
        raise SystemExit(f"{left} mails did not leave")
    return took


async def _serve(port: int, delay: float) -> None:
    from aiosmtpd.smtp import SMTP

    class Sink:
        async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:  # noqa: N802  # the name is aiosmtpd's
            if delay:
                await asyncio.sleep(delay)
            return "250 OK"

    import logging

    logging.getLogger("mail.log").setLevel(logging.ERROR)
    server = await asyncio.get_running_loop().create_server(
        lambda: SMTP(Sink(), hostname="sink.example", enable_SMTPUTF8=True), "127.0.0.1", port
    )
    async with server:
        await server.serve_forever()


def _environment(data: Path, port: int) -> dict[str, str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith("ROOFTALLY_")}
    return kept | {
        "DJANGO_SETTINGS_MODULE": "fleet.config.settings",
        "ROOFTALLY_DATA_DIR": str(data),
        "ROOFTALLY_MAIL_URL": f"smtp://127.0.0.1:{port}?tls=none",
        "ROOFTALLY_MAIL_DOMAIN_PACE": "0",
        "ROOFTALLY_LOG_LEVEL": "WARNING",
    }


if __name__ == "__main__":
    main()
