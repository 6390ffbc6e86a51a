"""What the index holds of a site, made of the words of all sources."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from fleet.search.sources import Rows, sources
from fleet.search.tokens import tokens_of
from fleet.search.words import Field, Shape, Word

_BREAKS = str.maketrans("\t\n\r\x00", "    ")
_PAST_MARK = "-"
_FIELDS = Field.values
_SHAPES = {shape + mark: (shape, bool(mark)) for shape in Shape for mark in ("", _PAST_MARK)}


@dataclass(frozen=True, slots=True)
class Document:
    """Everything that the index holds of one site."""

    tokens: frozenset[str]
    past_tokens: frozenset[str]
    shown: str

    @classmethod
    def of(cls, words: Iterable[Word]) -> Document:
        """The document that these words make."""
        distinct = sorted(set(words), key=_place)
        present, past = tokens_of(distinct)
        return cls(frozenset(present), frozenset(past), "\n".join(map(_line, distinct)))


def _place(word: Word) -> tuple[object, ...]:
    """The same order however the database gave the rows: what is so now first, then by field."""
    return (word.past, _FIELDS.index(word.field), word.text, word.shape)


def _line(word: Word) -> str:
    past = _PAST_MARK if word.past else ""
    return f"{word.field}\t{word.shape}{past}\t{word.text.translate(_BREAKS)}"


def shown_words(shown: str) -> list[Word]:
    """The words that a document was made of."""
    words = []
    for line in shown.split("\n"):
        if line:
            field, shape, text = line.split("\t", 2)
            words.append(Word(field, text, *_SHAPES[shape]))
    return words


def document_of(rows: Rows) -> Document:
    """The document of a site of which these rows were read."""
    return Document.of(word for source in sources() for word in source.words(rows))
