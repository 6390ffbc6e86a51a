"""A person at a page: follows links by their words, fills fields by their labels, presses buttons that can be seen.

What a person could not see or do is refused with LookupError: a journey cannot take a way that the page does not show.
"""

from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urldefrag, urlencode, urljoin

from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client

from tests.walk.dom import Element, parsed

SENDS = {"submit", "image", ""}
UNSENT = {"submit", "button", "reset", "image", "file"}
HOST = "http://testserver"


@dataclass
class Person:
    """Somebody with a browser of their own. ``url`` is where they are, ``page`` what they see."""

    client: Client = field(default_factory=Client)
    url: str = "/"
    status: int = 0
    page: Element = field(default_factory=lambda: Element("page"))
    content: bytes = b""

    def open(self, address: str) -> "Person":
        """Type an address, or open a link from a mail."""
        return self._went(self.client.get(_path(address), follow=True), address)

    def follow(self, words: str, *, within: str = "") -> "Person":
        """Follow the one visible link that says ``words``, where given in the row or section that shows ``within``."""
        links = [link for link in self._middle(within).walk("a") if link.seen and link.get("href")]
        return self.open(urljoin(self.url, _one(links, words, "link", self).get("href")))

    def find(self, scrap: str) -> "Person":
        """Type into the search box and press Enter."""
        form = next(form for form in self.page.walk("form") if form.get("role") == "search")
        return self.open(f"{form.get('action')}?{urlencode({'q': scrap})}")

    def press(self, words: str, *, within: str = "", photo: dict[str, bytes] | None = None, **typed: str) -> "Person":
        """Fill the form by its labels (``typed`` maps a label, or its beginning, with _ for a space) and press its
        button ``words``. Choices are named by their words. What is not typed is sent as it stands on the page.
        """
        return self.send(words, {label.replace("_", " "): text for label, text in typed.items()}, within, photo)

    def send(
        self, words: str, typed: dict[str, Any], within: str = "", photo: dict[str, bytes] | None = None
    ) -> "Person":
        """As ``press``, the labels in a mapping as they are written. A list ticks or chooses several."""
        buttons = [b for b in self._middle(within).walk("button", "input") if b.seen and _presses(b)]
        button = _one(buttons, words, "button", self)
        form = _form_of(button, self.page)
        sent = _as_it_stands(form, self.page)
        for label, text in typed.items():
            _fill(form, self.page, sent, label, text)
        files: dict[str, Any] = {}
        for label, content in (photo or {}).items():
            one = _labelled(form, self.page, label)[0]
            files[one.get("name")] = SimpleUploadedFile("label.png", content, "image/png")
        if button.get("name"):
            sent[button.get("name")] = [button.get("value")]
        target = urljoin(self.url, button.get("formaction") or form.get("action") or self.url)
        if form.get("method", "get").lower() != "post":
            return self.open(f"{urldefrag(target).url.split('?')[0]}?{urlencode(sent, doseq=True)}")
        return self._went(self.client.post(_path(target), {**sent, **files}, follow=True), target)

    @property
    def sees(self) -> str:
        """All words of the page's middle that can be seen, without the labels' hidden parts."""
        return " ".join(_visible(self._middle("")).split())

    @property
    def title(self) -> str:
        """The page's title."""
        return next(self.page.walk("title")).text

    def sees_all(self, *pieces: str) -> "Person":
        """Every one of these is to be read on the page."""
        missing = [piece for piece in pieces if piece.casefold() not in self.sees.casefold()]
        assert not missing, f"{self.url} ({self.status}) does not show {missing}: {self.sees[:1500]}"
        return self

    def sees_none(self, *pieces: str) -> "Person":
        """None of these is to be read on the page."""
        there = [piece for piece in pieces if piece.casefold() in self.sees.casefold()]
        assert not there, f"{self.url} ({self.status}) shows {there}: {self.sees[:1500]}"
        return self

    def _middle(self, within: str) -> Element:
        if not within:
            return self.page
        rows = [
            one
            for one in self.page.walk("li", "tr", "section", "form", "details", "fieldset")
            if one.seen and within in one.text
        ]
        if not rows:
            raise LookupError(f"{self.url} shows nothing that says “{within}”: {self.sees[:1500]}")
        return min(rows, key=lambda one: len(one.text))

    def _went(self, answer: Any, address: str) -> "Person":
        if answer.redirect_chain:
            address = urljoin(_path(address), answer.redirect_chain[-1][0])
        self.url, self.status = _path(address), answer.status_code
        self.content = b"".join(answer.streaming_content) if answer.streaming else answer.content
        self.page = parsed(self.content.decode("utf-8", "replace"))
        return self


def _path(address: str) -> str:
    for host in (HOST, "http://127.0.0.1:8000"):
        address = address.removeprefix(host)
    return urldefrag(address).url or "/"


def _one(elements: list[Element], words: str, what: str, person: Person) -> Element:
    """The element that says exactly this, or alone begins so or holds it."""
    for fits in (
        lambda said: said == words,
        lambda said: said.startswith(words),
        lambda said: words in said,
    ):
        found = [element for element in elements if fits(_says(element))]
        if len({(one.get("href"), one.get("name"), one.get("value"), id(one.parent)) for one in found}) == 1:
            return found[0]
        if len(found) > 1 and len({one.get("href") for one in found}) == 1 and what == "link":
            return found[0]
    said = [_says(element) for element in elements]
    raise LookupError(f"{person.url} ({person.status}) has not one {what} “{words}” but {said}: {person.sees[:800]}")


def _says(element: Element) -> str:
    return element.get("value") if element.tag == "input" else (element.text or element.get("aria-label"))


def _presses(element: Element) -> bool:
    kind = element.get("type", "submit" if element.tag == "button" else "text")
    return kind in SENDS and not element.has("disabled")


def _form_of(button: Element, page: Element) -> Element:
    if button.get("form"):
        return next(form for form in page.walk("form") if form.get("id") == button.get("form"))
    return next(one for one in button.around() if one.tag == "form")


def _fields(form: Element, page: Element) -> list[Element]:
    inside = set(map(id, form.walk()))
    return [
        one
        for one in page.walk("input", "select", "textarea")
        if one.get("name")
        and not one.has("disabled")
        and (one.get("form") == form.get("id") if one.get("form") else id(one) in inside)
    ]


def _as_it_stands(form: Element, page: Element) -> dict[str, list[str]]:
    sent: dict[str, list[str]] = {}
    for one in _fields(form, page):
        kind = one.get("type", "text")
        if one.tag == "select":
            options = list(one.walk("option"))
            chosen = [o for o in options if o.has("selected")] or ([] if one.has("multiple") else options[:1])
            sent.setdefault(one.get("name"), []).extend(o.get("value", o.text) for o in chosen)
        elif one.tag == "textarea":
            sent.setdefault(one.get("name"), []).append(
                "".join(p for p in one.inside if isinstance(p, str)).lstrip("\n")
            )
        elif kind in UNSENT or (kind in ("checkbox", "radio") and not one.has("checked")):
            continue
        else:
            sent.setdefault(one.get("name"), []).append(one.get("value", "on" if kind == "checkbox" else ""))
    return sent


def _labelled(form: Element, page: Element, label: str) -> list[Element]:
    """The fields of a form that a label names: one, or the choices of a group with that legend."""
    fields = [one for one in _fields(form, page) if one.get("type") != "hidden"]
    for exact in (True, False):
        ids = {
            one.get("for")
            for one in page.walk("label")
            if one.seen and (one.text == label if exact else one.text.startswith(label))
        }
        found = [one for one in fields if one.seen and (one.get("id") in ids or _inside_label(one, label, exact=exact))]
        found += [one for one in fields if one.seen and one.get("aria-label").startswith(label) and one not in found]
        if found:
            return found
    for group in form.walk("fieldset"):
        legends = [legend.text for legend in group.walk("legend")]
        if group.seen and legends and legends[0].startswith(label):
            inside = set(map(id, group.walk()))
            return [one for one in fields if id(one) in inside]
    names = [one.text for one in page.walk("label", "legend") if one.seen]
    raise LookupError(f"no field is labelled “{label}”; there are {names}")


def _inside_label(one: Element, label: str, *, exact: bool) -> bool:
    around = [outer.text for outer in one.around() if outer.tag == "label"]
    return any(said == label if exact else said.startswith(label) for said in around)


def _fill(form: Element, page: Element, sent: dict[str, list[str]], label: str, text: Any) -> None:
    fields = _labelled(form, page, label)
    first = fields[0]
    kind = first.get("type", "text")
    if first.tag == "select":
        wanted = [text] if isinstance(text, str) else list(text)
        sent[first.get("name")] = [_option(first, word) for word in wanted]
    elif kind in ("radio", "checkbox") and isinstance(text, str):
        chosen = [one for one in fields if _inside_label(one, text, exact=True) or _label_of(one, page) == text]
        chosen = chosen or [one for one in fields if _label_of(one, page).startswith(text)]
        if len(chosen) != 1:
            raise LookupError(f"“{label}” offers {[_label_of(one, page) for one in fields]}, not “{text}”")
        sent[first.get("name")] = [chosen[0].get("value", "on")]
    elif kind in ("radio", "checkbox"):
        kept = sent.setdefault(first.get("name"), [])
        value = first.get("value", "on")
        if text and value not in kept:
            kept.append(value)
        if not text and value in kept:
            kept.remove(value)
    else:
        sent[first.get("name")] = [text]


def _label_of(one: Element, page: Element) -> str:
    for label in page.walk("label"):
        if label.get("for") == one.get("id") != "" or one in list(label.walk()):
            return label.text
    return one.get("aria-label")


def _option(select: Element, word: str) -> str:
    options = list(select.walk("option"))
    for fits in (lambda said: said == word, lambda said: said.startswith(word), lambda said: word in said):
        found = [option for option in options if fits(option.text)]
        if len(found) == 1:
            return found[0].get("value", found[0].text)
    raise LookupError(f"there is no one choice “{word}” in {[option.text for option in options]}")


def _visible(element: Element) -> str:
    if not element.seen:
        return ""
    pieces = [piece if isinstance(piece, str) else f" {_visible(piece)} " for piece in element.inside]
    return "".join(pieces)
