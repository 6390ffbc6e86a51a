"""The walk itself: from the first page on through every door, within limits, noting what is wrong."""

from collections import Counter, deque
from dataclasses import dataclass, field
from urllib.parse import parse_qs, urldefrag, urljoin, urlsplit

from django.urls import Resolver404, resolve

from tests.walk import reading
from tests.walk.dom import Element
from tests.walk.reading import Door, folded, shows_in_part
from tests.walk.visitor import Answer, Visitor

FEW_FIELDS = 2  # pages whose address has more fields count as one kind: they are the same page, further narrowed
SCRIPTED = {"fleet:field"}  # its parts are chosen by its script: fragments there are no parts of the page


@dataclass(frozen=True)
class Limits:
    """How far a walk goes: pages of one kind (URL name and query fields), rows of one kind of list (in a single list at
    most half of them), pages of one counted list, and counts that lead to one kind of page.
    """

    pages_of_a_kind: int = 2
    rows_of_a_kind: int = 8
    pages_of_a_count: int = 40
    counts_of_a_kind: int = 3


@dataclass
class Found:
    """What all walks found together: faults, URL names that were opened or offered, and one address of each."""

    faults: list[str] = field(default_factory=list)
    opened: dict[str, tuple[str, str]] = field(default_factory=dict)
    offered: set[str] = field(default_factory=set)
    loaded: set[str] = field(default_factory=set)
    asked: int = 0


@dataclass(frozen=True)
class _Seen:
    status: int
    url: str
    words: str
    parts: frozenset[str]
    page: Element | None = None


class Walk:
    """One person's walk."""

    def __init__(self, visitor: Visitor, found: Found, limits: Limits, word: str) -> None:
        self._visitor, self._found, self._limits, self._word = visitor, found, limits, word
        self._seen: dict[str, _Seen] = {}
        self._of_a_kind: Counter[str] = Counter()
        self._totals: dict[str, tuple[int, bool]] = {}
        self._waiting: deque[tuple[str, Door]] = deque()

    def everywhere(self, start: str = "/") -> None:
        """Every page that can be reached from ``start``."""
        self._waiting.append((start, Door(urljoin(self._visitor.base, start), start)))
        while self._waiting:
            where, door = self._waiting.popleft()
            if self._visitor.is_ours(door.url):
                self._go(where, door)

    def _go(self, where: str, door: Door) -> None:
        name = name_of(door.path)
        if door.how == "post":
            self._found.offered.add(name)
            return
        key = door.path + (" htmx" if door.how == "htmx" else "")
        if key not in self._seen:
            if not self._may_open(where, name, door):
                return
            self._seen[key] = self._open(where, door, name)
        self._check(where, door, name, self._seen[key])

    def _may_open(self, where: str, name: str, door: Door) -> bool:
        fields = list(parse_qs(urlsplit(door.path).query))
        kind = f"{name}?{','.join(sorted(fields)) if len(fields) <= FEW_FIELDS else 'many'} {door.how}"
        most = self._limits.pages_of_a_kind
        if door.names:
            kind, most = f"{name} from a row of {name_of(where)}", self._limits.rows_of_a_kind
        elif door.count is not None:
            kind, most = f"{name} by {fields[-1:]} counted on {name_of(where)}", self._limits.counts_of_a_kind
        self._of_a_kind[kind] += 1
        return self._of_a_kind[kind] <= most

    def _open(self, where: str, door: Door, name: str) -> _Seen:
        answer = self._ask(door)
        if answer.status != 200:
            self._fault(where, door, f"answered {answer.status}")
        else:
            self._found.opened.setdefault(name, (self._visitor.who, door.path))
            self._found.opened.setdefault(name_of(answer.path), (self._visitor.who, answer.path))
        if not answer.is_page:
            return _Seen(answer.status, answer.path, "", frozenset())
        if answer.status == 200:
            self._look_at(answer, part=door.how == "htmx")
        parts = frozenset(element.get("id") for element in answer.page.walk() if element.has("id"))
        return _Seen(answer.status, answer.path, folded(_shown(answer)), parts, answer.page)

    def _ask(self, door: Door) -> Answer:
        self._found.asked += 1
        return self._visitor.get(urldefrag(door.url).url, htmx=door.how == "htmx")

    def _look_at(self, answer: Answer, *, part: bool) -> None:
        here = answer.path
        for rows in reading.lists(answer.page):
            named = reading.named_rows(rows)
            targets = {link.get("href") for _row, link in named}
            if len(named) > 1 and len(targets) == 1 and len({link.text for _row, link in named}) > 1:
                self._found.faults.append(f"{self._visitor.who} {here}: all {len(named)} rows lead to {targets.pop()}")
        language = [element.get("lang") for element in answer.page.walk("html")]
        if not part and language != [self._visitor.language]:
            self._found.faults.append(f"{self._visitor.who} {here}: lang is {language}, not {self._visitor.language}")
        for address in reading.assets(answer) - self._found.loaded:
            self._load(here, address)
        rows_taken: Counter[str] = Counter()
        for door in reading.doors(answer, self._word):
            if door.names:
                rows_taken[name_of(door.path)] += 1
                if rows_taken[name_of(door.path)] > max(2, self._limits.rows_of_a_kind // 2):
                    continue
            self._waiting.append((here, door))

    def _load(self, here: str, address: str) -> None:
        self._found.loaded.add(address)
        if not self._visitor.is_ours(address):
            self._found.faults.append(f"{self._visitor.who} {here}: loads {address} from elsewhere")
            return
        answer = self._visitor.get(address)
        if answer.status != 200 or not answer.body:
            self._found.faults.append(f"{self._visitor.who} {here}: loads {address}, which answers {answer.status}")

    def _check(self, where: str, door: Door, name: str, seen: _Seen) -> None:
        if seen.status != 200:
            return
        for named in door.names if seen.words else ():
            if folded(named) not in seen.words:
                self._fault(where, door, f"does not show “{named}”")
        if door.fragment and seen.words and name not in SCRIPTED and door.fragment not in seen.parts:
            self._fault(where, door, f"has no part #{door.fragment}")
        if door.count is not None and not door.fragment:
            self._compare(where, door)
        elif door.count is not None and seen.page and not shows_in_part(seen.page, door.fragment, door.words):
            self._fault(where, door, f"does not say it under #{door.fragment}")

    def _compare(self, where: str, door: Door) -> None:
        """The promised number against the rows of the list, turned to its end, and against its own heading."""
        if door.path not in self._totals:
            self._totals[door.path] = self._rows_behind(where, door)
        total, exact = self._totals[door.path]
        promised = door.count or 0
        if exact and (total < promised if door.at_least else total != promised):
            self._fault(where, door, f"promises {promised}, the list has {total}")

    def _rows_behind(self, where: str, door: Door) -> tuple[int, bool]:
        answer, total = self._ask(door), 0
        stated = reading.stated_total(answer.page)
        for _ in range(self._limits.pages_of_a_count):
            total += len(reading.main_list(answer.page))
            further = reading.next_page(answer)
            if not further:
                if stated and (total < stated[0] if stated[1] else total != stated[0]):
                    self._fault(where, door, f"says {stated[0]} and shows {total}")
                return total, True
            self._found.asked += 1
            answer = self._visitor.get(further)
        return (stated[0], not stated[1]) if stated else (total, False)

    def _fault(self, where: str, door: Door, what: str) -> None:
        self._found.faults.append(f"{self._visitor.who} {where}: “{door.words[:60]}” → {door.path} {what}")


def name_of(path: str) -> str:
    """The URL name behind an address."""
    try:
        return resolve(urlsplit(path).path).view_name
    except Resolver404:
        return f"(no page) {urlsplit(path).path}"


def _shown(answer: Answer) -> str:
    """The page's own words: its title and its middle."""
    pieces = [*answer.page.walk("title"), *answer.page.walk("main")] or [answer.page]
    return " ".join(piece.text for piece in pieces)
