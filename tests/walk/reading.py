"""What a page offers and states: doors to other pages, rows that name things, counts that lead to lists."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import parse_qs, urldefrag, urlencode, urljoin, urlsplit

from tests.walk.dom import Element
from tests.walk.visitor import Answer

SITE_CODE = re.compile(r"(?<![0-9A-Z-])[0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4}(?![0-9A-Z-])")
NUMBER = re.compile(r"(\d{1,3}(?:,\d{3})+|\d{1,6})(\+?)")  # longer ones are serial numbers
COUNTED = re.compile(rf"{NUMBER.pattern}(?: [a-z]+)+(?::.*)?")
TOTAL = re.compile(rf"(?:Found: )?(?:At least )?{NUMBER.pattern}(?: [a-z]+)?(?:\.| |$)")


@dataclass(frozen=True)
class Door:
    """One way from a page to another address. ``how`` is link, form (GET), htmx or post; a row's door says what the row
    ``names``, a counting one how many it promises (``at_least`` where it says so).
    """

    url: str
    words: str
    how: str = "link"
    names: tuple[str, ...] = ()
    count: int | None = None
    at_least: bool = False

    @property
    def fragment(self) -> str:
        """The part of the page that it leads to."""
        return urldefrag(self.url).fragment

    @property
    def path(self) -> str:
        """Its address without host and fragment."""
        parts = urlsplit(self.url)
        return parts.path + (f"?{parts.query}" if parts.query else "")


def doors(answer: Answer, word: str) -> Iterator[Door]:
    """Every door of a page; ``word`` is what a person would look for."""
    rows = {link: row for rows_here in lists(answer.page) for row, link in named_rows(rows_here)}
    for element in answer.page.walk():
        if not element.seen:
            continue
        if element.tag == "a" and element.get("href") and element not in rows:
            yield _linked(answer.url, element)
        if element.has("hx-get"):
            sent = {element.get("name"): word} if element.get("name") else {}
            yield Door(_with(urljoin(answer.url, element.get("hx-get")), sent), element.text, "htmx")
        for name in ("hx-post", "formaction"):
            if element.has(name):
                yield Door(urljoin(answer.url, element.get(name)), element.text, "post")
        if element.tag == "form":
            yield _sent(answer.url, element, word)
    for link, row in rows.items():
        yield Door(urljoin(answer.url, link.get("href")), link.text, names=tuple(_names(row, link)))


def lists(page: Element) -> list[list[Element]]:
    """The lists of a page, each as its rows."""
    found = []
    for element in page.walk():
        if element.tag == "tbody" or "rows" in element.classes or element.get("role") == "listbox":
            rows = [child for child in element.elements if child.tag in ("li", "tr", "a") and child.seen]
            found.append(rows)
    return found


def named_rows(rows: list[Element]) -> list[tuple[Element, Element]]:
    """The rows that lead somewhere, each with the link that names it: the first that is no act."""
    found = []
    for row in rows:
        for link in row.walk("a"):
            if _names_something(link):
                found.append((row, link))
                break
    return found


def main_list(page: Element) -> list[Element]:
    """The longest list in the page's middle: what the page is about."""
    middle = next(page.walk("main"), page)
    return max(lists(middle), key=len, default=[])


def stated_total(page: Element) -> tuple[int, bool] | None:
    """How many there are as the page's own heading says it, and whether it says *at least*."""
    for heading in page.walk("h1", "h2"):
        found = TOTAL.match(heading.text)
        if found and heading.seen:
            return _number(found), "At least" in heading.text or found.group(2) == "+"
    return None


def next_page(answer: Answer) -> str:
    """Where the list goes on, or nothing."""
    for main in answer.page.walk("main"):
        for link in main.walk("a"):
            if link.get("rel") == "next" and "before=" not in link.get("href"):
                return urljoin(answer.url, link.get("href"))
    return ""


def assets(answer: Answer) -> set[str]:
    """Images, scripts, styles and fonts that the page loads."""
    found = set()
    for element in answer.page.walk("img", "script", "link", "source"):
        address = element.get("src") or (element.get("href") if element.get("rel") != "canonical" else "")
        if address and not address.startswith(("data:", "blob:")):
            found.add(urljoin(answer.url, address))
    return found


def shows_in_part(page: Element, name: str, words: str) -> bool:
    """Whether the part of the page with this id, or that this heading names, says the words."""
    parts = [part for part in page.walk() if name in (part.get("id"), part.get("aria-labelledby"))]
    said = re.compile(rf"(?<![\d,]){re.escape(folded(words))}(?!\w)")
    return any(said.search(folded(part.text)) for part in parts)


def folded(text: str) -> str:
    """A text for comparing: one space between words, no letter case."""
    return " ".join(text.split()).casefold()


def _linked(url: str, link: Element) -> Door:
    target = urljoin(url, link.get("href"))
    count, at_least = (None, False) if _adds_to_a_choice(url, target, link) else _promise(link)
    return Door(target, link.text, count=count, at_least=at_least)


def _adds_to_a_choice(url: str, target: str, link: Element) -> bool:
    """A filter's choice says how many it brings; where another of its group is chosen, the list has more."""
    if not any("filter" in one.classes for one in link.around()):
        return False
    here, there = parse_qs(urlsplit(url).query), parse_qs(urlsplit(target).query)
    return any(here[name] != there.get(name) for name in here if name not in ("counts", "after", "before"))


def _promise(link: Element) -> tuple[int | None, bool]:
    """A number that stands alone in an element of the link, or *N in all*."""
    pieces = [element.text for element in link.walk("b", "span", "strong") if "unseen" not in element.classes]
    found = [match for match in (NUMBER.fullmatch(piece) for piece in pieces) if match]
    said = COUNTED.fullmatch(link.text)
    match = found[0] if len(found) == 1 else said
    return (_number(match), match.group(2) == "+") if match else (None, False)


def _number(match: re.Match[str]) -> int:
    return int(match.group(1).replace(",", ""))


def _names_something(link: Element) -> bool:
    to = link.get("href")
    return bool(to) and not to.startswith("#") and "button" not in link.classes and _promise(link) == (None, False)


def _names(row: Element, link: Element) -> Iterator[str]:
    """What the row's link says, or what stands out in it; and the site code, where the row has a single one."""
    strong = [element.text for element in link.walk() if "strong" in element.classes and element is not link]
    yield from re.split(r" · |: ", SITE_CODE.sub("", strong[0] if strong else link.text).strip(" ·"))
    codes = set(SITE_CODE.findall(row.text))
    if len(codes) == 1:
        yield codes.pop()


def _sent(url: str, form: Element, word: str) -> Door:
    action = urljoin(url, form.get("action") or url)
    words = " ".join(button.text for button in form.walk("button"))
    if form.get("method", "get").lower() == "post":
        return Door(action, words, "post")
    sent = {}
    for one in form.walk("input", "select"):
        if one.get("name") and one.get("type") not in ("checkbox", "radio", "submit"):
            sent[one.get("name")] = _chosen(one) if one.tag == "select" else _typed(one, word)
    return Door(_with(action, sent), words, "form")


def _typed(field: Element, word: str) -> str:
    return field.get("value") or (word if field.get("type", "text") in ("text", "search") else "")


def _chosen(select: Element) -> str:
    """What is chosen there already, else the first that a person could choose."""
    options = list(select.walk("option"))
    marked = [option.get("value") for option in options if option.has("selected")]
    return next((value for value in (*marked, *(option.get("value") for option in options)) if value), "")


def _with(url: str, sent: dict[str, str]) -> str:
    return f"{url}{'&' if '?' in url else '?'}{urlencode(sent)}" if sent else url
