"""Links taken apart to the letter (RFC 3986), without fetching or rewriting anything."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from fleet.labels.reading import Refused

_LINK = re.compile(r"(?:(https?)://)?([^/?#]*)([^?#]*)(?:\?([^#]*))?(?:#(.*))?", re.IGNORECASE | re.DOTALL)
_HTTP = re.compile(r"https?://", re.IGNORECASE)
_BROKEN = re.compile(r"https?:|\S*/(?:01|8006)/[0-9]{14}(?:[0-9]{4})?(?:[/?#]|$)", re.IGNORECASE)
_HOST = re.compile(r"(?:[A-Za-z0-9](?:[A-Za-z0-9.-]*)|\[[0-9A-Fa-f:.]+\])(?::\d*)?")
_CHARACTERS = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~:/?#[]@!$&'()*+,;=%")
_ESCAPE = re.compile(r"%([0-9A-Fa-f]{2})?")
_UNSAFE_SCHEME = re.compile(
    r"[A-Za-z][A-Za-z0-9+.-]*://|(?:javascript|data|vbscript|file|about|blob|view-source|intent|ftp|sftp|ws|wss):",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Link:
    """``host`` in small letters with its port where one is given; the rest exactly as written."""

    text: str
    scheme: str
    host: str
    path: str
    query: str
    path_position: int

    @property
    def hostname(self) -> str:
        """The host without its port."""
        return self.host if self.host.endswith("]") else self.host.rpartition(":")[0] or self.host

    @property
    def query_position(self) -> int:
        """Where the query starts, behind its question mark."""
        return self.path_position + len(self.path) + 1

    @property
    def rest(self) -> str:
        """All that follows the host."""
        return self.text[self.path_position :]


@dataclass(frozen=True, slots=True)
class QueryPair:
    """One key and value of a query, still percent-encoded; ``position`` is the key's."""

    key: str
    value: str
    position: int


def is_broken_link(text: str) -> bool:
    """Whether a text was meant for a link, but lacks its scheme or its slashes."""
    return bool(_BROKEN.match(text))


def is_http(text: str) -> bool:
    """Whether a text starts as a web link does, in either case."""
    return bool(_HTTP.match(text))


def has_unsafe_scheme(text: str) -> bool:
    """Whether a text is a link of another kind than http and https."""
    return not is_http(text) and bool(_UNSAFE_SCHEME.match(text))


def split_link(text: str) -> Link:
    """Take a link apart; the scheme may be missing. Raises :class:`Refused`."""
    for position, character in enumerate(text):
        if character not in _CHARACTERS:
            raise Refused(_reason(character), position)
    match = _LINK.fullmatch(text)
    if match is None:  # pragma: no cover - the pattern matches every text of allowed characters
        raise Refused("bad_structure", 0)
    scheme, host, path, query, _ = match.groups()
    if "@" in host:
        raise Refused("unsafe_url", match.start(2))
    if not host:
        raise Refused("not_an_identifier", match.start(2))
    if not _HOST.fullmatch(host):
        raise Refused("bad_char", match.start(2))
    return Link(text, (scheme or "").lower(), host.lower(), path, query or "", match.end(2))


def _reason(character: str) -> str:
    if character < " " or character == "\x7f":
        return "control_char"
    return "bad_char" if character.isascii() else "non_ascii"


def query_pairs(link: Link) -> Iterator[QueryPair]:
    """The keys of a query that have a value, empty ones included; parts without ``=`` say nothing."""
    position = link.query_position
    for part in link.query.split("&"):
        key, equals, value = part.partition("=")
        if equals:
            yield QueryPair(key, value, position)
        position += len(part) + 1


def percent_decoded(text: str, position: int, *, plus_is_space: bool) -> str:
    """Percent-decode once; ``position`` is where the text stands in the payload. Raises :class:`Refused`."""
    if plus_is_space:
        text = text.replace("+", " ")
    if "%" not in text:
        return text

    def character(escape: re.Match[str]) -> str:
        code = escape.group(1)
        if code is None:
            raise Refused("bad_encoding", position + escape.start())
        value = int(code, 16)
        if value < 0x20 or value >= 0x7F:
            raise Refused("control_char" if value <= 0x7F else "non_ascii", position + escape.start())
        return chr(value)

    return _ESCAPE.sub(character, text)
