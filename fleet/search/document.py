"""What a site is found by: the register's own words, and the words of every source that settings name."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from functools import cache

from django.conf import settings
from django.db import connection
from django.utils.module_loading import import_string

from fleet.labels.sitecode import format_site_code
from fleet.search.backend import backend
from fleet.search.tokens import tokens_of
from fleet.search.words import Field, Shape, Word

_BREAKS = str.maketrans("\t\n\r\x00", "    ")
_PAST_MARK = "-"
_FIELDS = Field.values
_SHAPES = {shape + mark: (shape, bool(mark)) for shape in Shape for mark in ("", _PAST_MARK)}

Source = Callable[[list[int]], dict[int, list[Word]]]


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


def documents_of(site_ids: Sequence[int]) -> dict[int, Document]:
    """The documents of these sites, from all sources."""
    words: dict[int, list[Word]] = {site_id: [] for site_id in site_ids}
    for source in _sources(tuple(settings.SEARCH_SOURCES)):
        for site_id, found in source(list(site_ids)).items():
            words[site_id] += found
    return {site_id: Document.of(found) for site_id, found in words.items()}


@cache
def _sources(names: tuple[str, ...]) -> list[Source]:
    return [import_string(name) for name in names]


# One statement for all that hangs on a site; each part gives site, field, shape, text and whether it is past.
_REGISTER = """
SELECT site.id, 'site', site.code, site.name, site.street, site.house_number, site.postcode, site.town, site.region, 0
  FROM fleet_site AS site WHERE {by_id}
UNION ALL
SELECT label.site_id, 'tag', tag.name, '', '', '', '', '', '', 0
  FROM fleet_site_tags AS label JOIN fleet_tag AS tag ON tag.id = label.tag_id WHERE {by_site}
UNION ALL
SELECT site_id, 'reference', value, '', '', '', '', '', '', 0 FROM fleet_sitereference WHERE {by_site}
UNION ALL
SELECT site_id, 'code', code, '', '', '', '', '', '', 1 FROM fleet_sitecodealias WHERE {by_site}
UNION ALL
SELECT placed.site_id, 'device', device.serial, device.mac, device.part_number, COALESCE(maker.name, ''),
       COALESCE(model.name, ''), '', '', CASE WHEN placed.until IS NULL THEN 0 ELSE 1 END
  FROM fleet_placement AS placed JOIN fleet_device AS device ON device.id = placed.device_id
  LEFT JOIN fleet_devicemodel AS model ON model.id = device.model_id
  LEFT JOIN fleet_maker AS maker ON maker.id = model.maker_id
 WHERE {by_site}
"""


def register_words(site_ids: list[int]) -> dict[int, list[Word]]:
    """Codes, addresses, tags, references and devices of these sites; a device that left is past."""
    words: dict[int, list[Word]] = defaultdict(list)
    if site_ids:
        by_id, given = backend().one_of("site.id", site_ids)
        by_site, _given = backend().one_of("site_id", site_ids)
        sql = _REGISTER.format(by_id=by_id, by_site=by_site)
        with connection.cursor() as cursor:
            cursor.execute(sql, [given] * sql.count("%s"))
            for site_id, what, *texts, past in cursor.fetchall():
                words[site_id] += _MAKE[what](texts, bool(past))
    return words


def _site(texts: list[str], past: bool) -> list[Word]:
    code, name, street, number, postcode, town, region = texts
    address = ", ".join(filter(None, (f"{street} {number}".strip(), f"{postcode} {town}".strip())))
    given = [
        Word(Field.CODE, format_site_code(code), Shape.SERIAL),
        Word(Field.NAME, name),
        Word(Field.ADDRESS, address),
        Word(Field.ADDRESS, region),
    ]
    return [word for word in given if word.text]


def _device(texts: list[str], past: bool) -> list[Word]:
    serial, mac, part_number, maker, model, *_ = texts
    given = [
        Word(Field.SERIAL, serial, Shape.SERIAL, past),
        Word(Field.MAC, mac, Shape.SERIAL, past),
        Word(Field.MODEL, part_number, Shape.SERIAL, past),
        Word(Field.MODEL, f"{maker} {model}".strip(), Shape.NUMBERED, past),
    ]
    return [word for word in given if word.text]


_MAKE: dict[str, Callable[[list[str], bool], list[Word]]] = {
    "site": _site,
    "device": _device,
    "tag": lambda texts, past: [Word(Field.TAG, texts[0])],
    "reference": lambda texts, past: [Word(Field.REFERENCE, texts[0], Shape.SERIAL)],
    "code": lambda texts, past: [Word(Field.CODE, format_site_code(texts[0]), Shape.SERIAL, past)],
}
