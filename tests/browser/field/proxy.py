"""A network that misbehaves on command, on loopback, between the phone and the server."""

import http.client
import random
import socket
import threading
import time
from collections import Counter
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import urlsplit

HOP_BY_HOP = {"connection", "keep-alive", "transfer-encoding", "content-length", "server", "date"}
LONGEST_SILENCE = 30


FAULTS = ("drop", "truncate", "double", "delay")


class Network:
    """``mode`` is ``good``, ``down`` (no connection), ``dead`` (accepts and answers nothing), ``captive`` (answers with
    a sign-in page of its own) or ``bad``: of the answers it drops, delays, doubles or cuts off ``spoil`` in a hundred.

    ``only`` narrows the faults to one; ``refuse`` may answer a request with an HTTP status of its own instead.
    ``rewrite`` may change the body of an answer by its path, so that a test can serve a broken page.
    ``bytes_per_second`` slows what the phone sends. ``most_at_once`` tells how many requests with records the server
    ever had before it at the same time.
    """

    def __init__(self, upstream: str, *, seed: int = 7, spoil: int = 80) -> None:
        self.mode = "good"
        self.spoil = spoil
        self.rewrite: Callable[[str, bytes], bytes] = lambda _path, body: body
        self.only = ""
        self.refuse: Callable[[str, bytes], int] = lambda _path, _body: 0
        self.counted: Counter[str] = Counter()
        self.most_at_once = 0
        self.bytes_per_second = 0
        self._arriving: Counter[str] = Counter()
        self._under_way = 0
        self._counting = threading.Lock()
        self._dice = random.Random(seed)
        self._upstream = urlsplit(upstream)
        network = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def do_GET(self) -> None:
                network.serve(self)

            def do_POST(self) -> None:
                network.serve(self)

            def log_message(self, *_args: object) -> None:
                """Say nothing."""

        self._server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self._server.daemon_threads = True
        self.url = f"http://localhost:{self._server.server_address[1]}"
        threading.Thread(target=self._server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()

    def break_page(self, was: bytes, becomes: bytes) -> None:
        """Serve the page's script with ``was`` replaced, which must stand in it."""

        def rewritten(path: str, body: bytes) -> bytes:
            if not path.endswith("/field/page.js"):
                return body
            assert was in body, "the page reads differently now: break it anew"
            return body.replace(was, becomes)

        self.rewrite = rewritten

    def stop(self) -> None:
        """Close the network for good."""
        self.mode = "down"
        self._server.shutdown()
        self._server.server_close()

    def serve(self, handler: BaseHTTPRequestHandler) -> None:
        """Answer one request as the mode says."""
        handler.close_connection = True
        length = int(handler.headers.get("Content-Length") or 0)
        body = self._arrive(handler, length)
        if self.mode == "down":
            return self._cut(handler)
        if self.mode == "dead":
            return self._keep_silent(handler)
        if self.mode == "captive":
            return self._answer(handler, 200, [("Content-Type", "text/html")], b"<h1>Welcome to our Wi-Fi</h1>")
        if status := self.refuse(handler.path, body):
            return self._answer(handler, status, [("Content-Type", "text/plain")], b"refused by the test")
        fault = self._fault() if self.mode == "bad" else "none"
        self.counted[fault] += 1
        status, headers, answer = self._ask(handler, body)
        if fault == "double":
            status, headers, answer = self._ask(handler, body)
        if fault == "drop":
            return self._cut(handler)
        if fault == "delay":
            time.sleep(self._dice.uniform(0.2, 1.0))
        if fault == "truncate":
            return self._answer(handler, status, headers, answer, cut=len(answer) // 2)
        return self._answer(handler, status, headers, answer)

    def under_way(self, ending: str) -> bool:
        """Whether a body is arriving slowly just now for a path with this ending."""
        return any(number for path, number in self._arriving.items() if path.endswith(ending))

    def _arrive(self, handler: BaseHTTPRequestHandler, length: int) -> bytes:
        """The body, as slowly as ``bytes_per_second`` says (0: at once)."""
        if not self.bytes_per_second:
            return handler.rfile.read(length)
        handler.connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 16_384)
        self._arriving[handler.path] += 1
        pieces = []
        while length > 0:
            piece = handler.rfile.read(min(length, 4096))
            if not piece:
                break
            pieces.append(piece)
            length -= len(piece)
            time.sleep(len(piece) / self.bytes_per_second)
        self._arriving[handler.path] -= 1
        return b"".join(pieces)

    def _fault(self) -> str:
        if not self.only and (missed := [fault for fault in FAULTS if fault not in self.counted]):
            return missed[0]  # each kind is met once; only then chance decides
        if self._dice.randrange(100) >= self.spoil:
            return "none"
        return self.only or self._dice.choice(FAULTS)

    def _ask(self, handler: BaseHTTPRequestHandler, body: bytes) -> tuple[int, list[tuple[str, str]], bytes]:
        counts = int(handler.path.endswith("/records"))
        with self._counting:
            self._under_way += counts
            self.most_at_once = max(self.most_at_once, self._under_way)
        try:
            return self._answer_of_server(handler, body)
        finally:
            with self._counting:
                self._under_way -= counts

    def _answer_of_server(
        self, handler: BaseHTTPRequestHandler, body: bytes
    ) -> tuple[int, list[tuple[str, str]], bytes]:
        connection = http.client.HTTPConnection(self._upstream.hostname or "", self._upstream.port, timeout=20)
        try:
            headers = {name: value for name, value in handler.headers.items() if name.lower() != "accept-encoding"}
            connection.request(handler.command, handler.path, body, headers)
            answer = connection.getresponse()
            content = self.rewrite(urlsplit(handler.path).path, answer.read())
            kept = [(name, value) for name, value in answer.getheaders() if name.lower() not in HOP_BY_HOP]
            return answer.status, kept, content
        finally:
            connection.close()

    def _answer(
        self,
        handler: BaseHTTPRequestHandler,
        status: int,
        headers: list[tuple[str, str]],
        body: bytes,
        cut: int | None = None,
    ) -> None:
        try:
            handler.send_response(status)
            for name, value in headers:
                handler.send_header(name, value)
            handler.send_header("Content-Length", str(len(body)))
            handler.send_header("Connection", "close")
            handler.end_headers()
            handler.wfile.write(body if cut is None else body[:cut])
            handler.wfile.flush()
        except OSError:
            return

    def _cut(self, handler: BaseHTTPRequestHandler) -> None:
        try:
            handler.connection.shutdown(socket.SHUT_RDWR)
        except OSError:
            return

    def _keep_silent(self, handler: BaseHTTPRequestHandler) -> None:
        until = time.monotonic() + LONGEST_SILENCE
        while self.mode == "dead" and time.monotonic() < until:
            time.sleep(0.05)
        self._cut(handler)
