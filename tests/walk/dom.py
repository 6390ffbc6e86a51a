"""A page as a tree of elements, read with the standard library: enough to walk a page and to read what it says."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}
CLOSED_BY = {"li": {"li"}, "option": {"option"}, "tr": {"tr"}, "td": {"td", "th"}, "th": {"td", "th"}}
UNSEEN_TAGS = {"head", "script", "style", "template", "noscript", "datalist"}
BLOCKS = set("p div li td th tr h1 h2 h3 dt dd section option summary br label".split())


@dataclass(eq=False)
class Element:
    """One element with what is inside it."""

    tag: str
    attributes: dict[str, str] = field(default_factory=dict)
    inside: "list[Element | str]" = field(default_factory=list)
    parent: "Element | None" = None

    def get(self, name: str, default: str = "") -> str:
        """An attribute's value; one without a value is empty."""
        return self.attributes.get(name, default)

    def has(self, name: str) -> bool:
        """Whether it bears the attribute at all."""
        return name in self.attributes

    @property
    def classes(self) -> set[str]:
        """Its classes."""
        return set(self.get("class").split())

    @property
    def elements(self) -> "list[Element]":
        """The elements directly inside it."""
        return [child for child in self.inside if isinstance(child, Element)]

    def walk(self, *tags: str) -> "Iterator[Element]":
        """It and everything inside it in the order of the page, of these tags where any are given."""
        if not tags or self.tag in tags:
            yield self
        for child in self.elements:
            yield from child.walk(*tags)

    def around(self) -> "Iterator[Element]":
        """What it stands in, from the inside out."""
        outer = self.parent
        while outer is not None:
            yield outer
            outer = outer.parent

    @property
    def seen(self) -> bool:
        """Whether a person could see it, as far as the page itself says; what a closed *details* holds counts."""
        return not any(
            one.tag in UNSEEN_TAGS or one.has("hidden") or (one.tag == "dialog" and not one.has("open"))
            for one in (self, *self.around())
        )

    @property
    def text(self) -> str:
        """Its words, one space between them."""
        return " ".join("".join(self._pieces()).split())

    def _pieces(self) -> Iterator[str]:
        if self.tag in UNSEEN_TAGS and self.tag != "head":
            return
        if self.tag in BLOCKS:
            yield " "
        for child in self.inside:
            if isinstance(child, str):
                yield child
            else:
                yield from child._pieces()
        if self.tag in BLOCKS:
            yield " "


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.root = Element("page")
        self._open = self.root

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if self._open.tag in CLOSED_BY.get(tag, ()) and self._open.parent is not None:
            self._open = self._open.parent
        made = Element(tag, {name: value or "" for name, value in attrs}, parent=self._open)
        self._open.inside.append(made)
        if tag not in VOID:
            self._open = made

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        made = Element(tag, {name: value or "" for name, value in attrs}, parent=self._open)
        self._open.inside.append(made)

    def handle_endtag(self, tag: str) -> None:
        for one in (self._open, *self._open.around()):
            if one.tag == tag and one.parent is not None:
                self._open = one.parent
                return

    def handle_data(self, data: str) -> None:
        self._open.inside.append(data)


def parsed(text: str) -> Element:
    """A page's text as a tree."""
    reader = _Reader()
    reader.feed(text)
    reader.close()
    return reader.root
