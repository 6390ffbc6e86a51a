"""Somebody with a browser, from outside: an address, cookies, a language, and nothing known of the program's inside."""

from dataclasses import dataclass, field
from functools import cached_property
from http.client import HTTPConnection, HTTPException
from http.cookies import SimpleCookie
from urllib.parse import urlencode, urljoin, urlsplit

from tests.walk.dom import Element, parsed

TIMEOUT = 60
MOST_REDIRECTS = 5
HTMX = {"HX-Request": "true"}


@dataclass(frozen=True)
class Answer:
    """What came back, after redirects."""

    status: int
    url: str
    headers: dict[str, str]
    body: bytes

    @cached_property
    def page(self) -> Element:
        """The page as a tree."""
        return parsed(self.body.decode("utf-8", "replace"))

    @property
    def media_type(self) -> str:
        """What it says that it is."""
        return self.headers.get("content-type", "").split(";")[0].strip()

    @property
    def is_page(self) -> bool:
        """Whether there are links to follow on it."""
        return self.media_type == "text/html"

    @property
    def path(self) -> str:
        """Its address without the host."""
        parts = urlsplit(self.url)
        return parts.path + (f"?{parts.query}" if parts.query else "")


@dataclass
class Visitor:
    """One person at one browser."""

    base: str
    who: str = "anonymous"
    language: str = "en"
    cookies: dict[str, str] = field(default_factory=dict)
    _connection: HTTPConnection | None = None

    def sign_in(self, email: str, password: str) -> None:
        """By the form, as everybody does. Raises LookupError where that does not come out."""
        page = self.get("/accounts/login/").page
        (token,) = {field.get("value") for field in page.walk("input") if field.get("name") == "csrfmiddlewaretoken"}
        sent = {"csrfmiddlewaretoken": token, "login": email, "password": password}
        answer = self._ask("POST", urljoin(self.base, "/accounts/login/"), urlencode(sent).encode(), {})
        if answer.status != 200 or "/accounts/login" in answer.url:
            raise LookupError(f"{self.who} could not sign in")

    def get(self, path: str, *, htmx: bool = False) -> Answer:
        """Open an address of the house, as a page or as htmx asks for a part of one."""
        return self._ask("GET", urljoin(self.base, path), None, HTMX if htmx else {})

    def is_ours(self, url: str) -> bool:
        """Whether an address leads into the house."""
        return urljoin(self.base, url).startswith(f"{self.base}/")

    def _ask(self, method: str, url: str, body: bytes | None, headers: dict[str, str]) -> Answer:
        for _ in range(MOST_REDIRECTS):
            answer = self._once(method, url, body, headers)
            if answer.status not in (301, 302, 303, 307) or not self.is_ours(answer.headers["location"]):
                return answer
            url, method, body = urljoin(url, answer.headers["location"]), "GET", None
        raise RecursionError(f"{url} redirects without end")

    def _once(self, method: str, url: str, body: bytes | None, headers: dict[str, str]) -> Answer:
        parts = urlsplit(url)
        path = parts.path + (f"?{parts.query}" if parts.query else "")
        sent = {
            "Accept-Language": self.language,
            "Referer": url,
            "Origin": self.base,
            "Accept": "text/html,*/*",
        } | headers
        sent["Cookie"] = "; ".join(f"{name}={value}" for name, value in self.cookies.items())
        if body is not None:
            sent["Content-Type"] = "application/x-www-form-urlencoded"
        for attempt in (1, 2):
            connection = self._connected()
            try:
                connection.request(method, path, body, sent)
                answer = connection.getresponse()
                content = answer.read()
                break
            except (HTTPException, ConnectionError):
                self.leave()  # the server closed the connection while it was idle
                if attempt == 2 or method != "GET":
                    raise
        self._keep(answer.headers.get_all("Set-Cookie") or [])
        return Answer(answer.status, url, {name.lower(): value for name, value in answer.getheaders()}, content)

    def _connected(self) -> HTTPConnection:
        if self._connection is None:
            parts = urlsplit(self.base)
            self._connection = HTTPConnection(parts.hostname or "", parts.port, timeout=TIMEOUT)
        return self._connection

    def leave(self) -> None:
        """Hang up."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None

    def _keep(self, lines: list[str]) -> None:
        for line in lines:
            for name, morsel in SimpleCookie(line).items():
                if morsel["max-age"] == "0" or not morsel.value:
                    self.cookies.pop(name, None)
                else:
                    self.cookies[name] = morsel.value
