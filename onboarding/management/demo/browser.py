"""A small web client for the demo: cookies, pages, the forms on them. It knows nothing of the program's inside."""

import json
import uuid
from dataclasses import dataclass, field
from html.parser import HTMLParser
from http.client import HTTPConnection, HTTPResponse, HTTPSConnection
from http.cookies import SimpleCookie
from typing import Any
from urllib.parse import urlencode, urljoin, urlsplit

TIMEOUT = 30
MOST_REDIRECTS = 5


@dataclass
class Form:
    """One form of a page: where it goes and what it would send as it stands. ``buttons`` maps names to values."""

    action: str
    method: str
    multipart: bool
    values: dict[str, str] = field(default_factory=dict)
    names: set[str] = field(default_factory=set)
    buttons: list[tuple[str, str]] = field(default_factory=list)


@dataclass
class Page:
    """What came back, after redirects."""

    status: int
    url: str
    text: str
    headers: dict[str, str]

    @property
    def forms(self) -> list[Form]:
        """The forms on it, their actions made absolute."""
        reader = _FormReader(self.url)
        reader.feed(self.text)
        return reader.forms

    @property
    def links(self) -> list[str]:
        """Where its links lead, made absolute."""
        reader = _FormReader(self.url)
        reader.feed(self.text)
        return reader.links

    def form_with(self, *names: str) -> Form:
        """The first form that has fields or buttons of all these names. Raises LookupError."""
        for form in self.forms:
            if set(names) <= form.names | {name for name, _value in form.buttons}:
                return form
        raise LookupError(f"{self.url} ({self.status}) has no form with {', '.join(names)}")

    @property
    def document(self) -> Any:
        """The parsed JSON."""
        return json.loads(self.text)


class Browser:
    """One person's browser: its cookies are its own."""

    def __init__(self, base: str) -> None:
        self.base = base
        self._cookies: dict[str, str] = {}

    def get(self, path: str) -> Page:
        """Open a page and follow redirects."""
        return self._ask("GET", urljoin(self.base, path), None, {})

    def submit(self, form: Form, files: dict[str, tuple[str, str, bytes]] | None = None, **values: str) -> Page:
        """Send a form with ``values`` filled in; ``files`` maps a field to file name, media type and content."""
        sent = form.values | values
        if form.method == "GET":
            return self.get(f"{form.action}?{urlencode(sent)}")
        if form.multipart:
            boundary = uuid.uuid4().hex
            body = _multipart(boundary, sent, files or {})
            return self._ask("POST", form.action, body, {"Content-Type": f"multipart/form-data; boundary={boundary}"})
        return self._ask("POST", form.action, urlencode(sent).encode(), {"Content-Type": FORM})

    def send_json(self, path: str, document: Any) -> Page:
        """POST JSON to the API with the page's own session."""
        headers = {
            "Content-Type": "application/json",
            "X-CSRFToken": self._cookies.get("csrftoken", ""),
            "Referer": self.base,
            "Idempotency-Key": str(uuid.uuid4()),
        }
        return self._ask("POST", urljoin(self.base, path), json.dumps(document).encode(), headers)

    def _ask(self, method: str, url: str, body: bytes | None, headers: dict[str, str]) -> Page:
        for _ in range(MOST_REDIRECTS):
            status, answered, text = self._once(method, url, body, headers)
            if status not in (301, 302, 303, 307) or "location" not in answered:
                return Page(status, url, text, answered)
            url, method, body, headers = urljoin(url, answered["location"]), "GET", None, {}
        raise RecursionError(f"{url} redirects without end")

    def _once(
        self, method: str, url: str, body: bytes | None, headers: dict[str, str]
    ) -> tuple[int, dict[str, str], str]:
        parts = urlsplit(url)
        if not url.startswith(self.base):
            raise ValueError(f"{url} is not the demo's own address")
        kind = HTTPSConnection if parts.scheme == "https" else HTTPConnection
        connection = kind(parts.hostname or "", parts.port, timeout=TIMEOUT)
        cookies = "; ".join(f"{name}={value}" for name, value in self._cookies.items())
        path = parts.path + (f"?{parts.query}" if parts.query else "")
        try:
            connection.request(method, path, body, {"Cookie": cookies, "Referer": url, "Origin": self.base} | headers)
            answer = connection.getresponse()
            text = answer.read().decode("utf-8", "replace")
        finally:
            connection.close()
        self._keep_cookies(answer)
        return answer.status, {name.lower(): value for name, value in answer.getheaders()}, text

    def _keep_cookies(self, answer: HTTPResponse) -> None:
        for line in answer.headers.get_all("Set-Cookie") or []:
            for name, morsel in SimpleCookie(line).items():
                if morsel["max-age"] == "0" or not morsel.value:
                    self._cookies.pop(name, None)
                else:
                    self._cookies[name] = morsel.value


FORM = "application/x-www-form-urlencoded"


class _FormReader(HTMLParser):
    """Collects forms and links."""

    def __init__(self, url: str) -> None:
        super().__init__()
        self._url = url
        self.forms: list[Form] = []
        self.links: list[str] = []
        self._form: Form | None = None
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = {name: value or "" for name, value in attrs}
        if tag == "a" and "href" in found:
            self.links.append(urljoin(self._url, found["href"]))
        elif tag == "form":
            multipart = found.get("enctype") == "multipart/form-data"
            action = urljoin(self._url, found.get("action") or self._url)
            self._form = Form(action, found.get("method", "get").upper(), multipart)
            self.forms.append(self._form)
        elif self._form is not None:
            self._field(self._form, tag, found)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = None

    def _field(self, form: Form, tag: str, found: dict[str, str]) -> None:
        name = found.get("name", "")
        if tag == "option" and self._select:
            if "selected" in found or self._select not in form.values:
                form.values[self._select] = found.get("value", "")
        elif tag in ("button", "input") and found.get("type", "submit" if tag == "button" else "text") == "submit":
            if name:
                form.buttons.append((name, found.get("value", "")))
        elif tag in ("input", "textarea", "select") and name:
            form.names.add(name)
            self._select = name if tag == "select" else ""
            ticked = found.get("type") not in ("checkbox", "radio") or "checked" in found
            if tag == "input" and ticked and found.get("type") != "file":
                form.values[name] = found.get("value", "on" if found.get("type") == "checkbox" else "")


def _multipart(boundary: str, values: dict[str, str], files: dict[str, tuple[str, str, bytes]]) -> bytes:
    parts = [
        f'--{boundary}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
        for name, value in values.items()
    ]
    for name, (file_name, media_type, content) in files.items():
        head = (
            f'--{boundary}\r\nContent-Disposition: form-data; name="{name}"; filename="{file_name}"\r\n'
            f"Content-Type: {media_type}\r\n\r\n"
        )
        parts.append(head.encode() + content + b"\r\n")
    return b"".join(parts) + f"--{boundary}--\r\n".encode()
