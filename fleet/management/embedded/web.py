"""The web server as a thread of this process: waitress, over plain HTTP."""

import socket
import threading
from collections.abc import Callable
from typing import Any

import waitress
from django.conf import settings
from waitress import wasyncore

THREADS = 8


class AddressTaken(Exception):
    """Another program listens on this address, or it is not one of this machine's."""


def bound_socket(host: str, port: int) -> socket.socket:
    """A listening address; port 0 takes a free one. Raises AddressTaken."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((host, port))
        listener.listen()  # from here on the address is ours: of two that only bind, both would think so
    except (OSError, OverflowError) as error:
        listener.close()
        reason = getattr(error, "strerror", None) or error
        raise AddressTaken(f"Nothing can be served at {host} port {port}: {reason}.") from error
    return listener


class Web:
    """Serves a WSGI application on a bound socket until stopped."""

    def __init__(self, application: Callable[..., Any], listener: socket.socket) -> None:
        self._server: Any = waitress.create_server(
            application,
            sockets=[listener],
            threads=THREADS,
            ident="Rooftally",
            max_request_body_size=settings.LONGEST_BODY,
            clear_untrusted_proxy_headers=not settings.BEHIND_PROXY,
        )
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._serve, name="web", daemon=True)

    def start(self) -> None:
        """Begin to answer."""
        self._thread.start()

    def stop(self, seconds: float) -> None:
        """Answer what has begun within ``seconds``, then close."""
        self._stopping.set()
        self._server.pull_trigger()
        self._thread.join(seconds / 2)
        self._server.task_dispatcher.shutdown(timeout=seconds / 2)
        wasyncore.close_all(self._server._map, ignore_all=True)

    def _serve(self) -> None:
        while not self._stopping.is_set():
            wasyncore.loop(timeout=1, map=self._server._map, use_poll=True, count=1)
