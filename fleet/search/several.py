"""Looking several terms up that must all hold.

They are counted first, up to a cap, the longest before the others; the sites of the rarest are taken, where these are
many only those that other terms have too, and what is left is compared with the documents.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice

from fleet.search import ranges
from fleet.search.backend import backend
from fleet.search.by_words import sites_by_words, sites_with_words
from fleet.search.hits import Hit, Hits, all_of_them, the_first
from fleet.search.reading import Reading
from fleet.search.statements import Statement
from fleet.search.terms import Term

_EVERY = 1_000_000_000
FEW = 60  # so few documents are read sooner than another term is looked at
RARE = 400
FEW_ALLOWED = 1000  # sites whose documents are all read
_LIKELY_RARE = 2  # so many of the longest terms are counted before the others
_GONE_THROUGH = 4000  # rows, in the time that looking the words of a common one's first sites up in the others may take
_NOT_FEW = 6  # sites, found among the first ones: more are soon found among those that follow, or may be left out
_FURTHER = 8  # times as many of those
_SIDE_BY_SIDE = 7  # times as many sites as have the rarest word: to go through those takes as long as looking these up
_FAR = 5000  # rows to which a part is counted where few sites have all terms as whole words
_TRIED, _TRIED_FURTHER = 150, 300  # rows of each range of a common beginning whose documents are read
_AND_WHAT_IS_LONGER = 4  # times as many sites as have the very word, where that is unknown
_LOOKED_UP = 3  # other words that are looked up site by site
_LONGER_LOOKED_UP = 4  # words beginning with one of them that are looked up with it
_MOST_READ, _READ_AT_ONCE, _MOST_GATHERED = 1200, 400, 5000  # documents


@dataclass(frozen=True, slots=True)
class Counted:
    """A term, and how many rows each of its parts has, up to a cap."""

    term: Term
    parts: tuple[int, ...]
    cap: int
    with_word: float = _EVERY
    """Where the very word is not narrow, an estimate of how many sites have that."""
    longer: tuple[str, ...] = ()
    """The tokens that begin with it, where sites with one are not narrow, but the tokens few."""

    @property
    def rows(self) -> int:
        """All rows that were counted."""
        return sum(self.parts)

    @property
    def is_narrow(self) -> bool:
        """Whether these are all it has: soon gone through."""
        return max(self.parts) < self.cap

    @property
    def whole(self) -> float:
        """How many sites have the very word, or one of several; an estimate where these are not narrow."""
        rows = (self.parts[0], *self.parts[2 : 1 + len(self.term.whole)])
        return sum(rows) if max(rows) < self.cap else self.with_word

    @property
    def can_be_looked_up(self) -> bool:
        """Whether what it has beside the very word or code is soon gone through, or looked up, too."""
        return bool(self.longer) or max(self.parts[1:]) < backend().NARROW

    @property
    def codes(self) -> int:
        """How many rows were counted of codes that begin or end with it."""
        return sum(self.parts[2:])

    @property
    def likely(self) -> float:
        """How many sites have it; an estimate where it is not narrow."""
        if self.is_narrow:
            return self.rows
        return self.with_word * (1 if max(self.parts[1:]) < backend().NARROW else _AND_WHAT_IS_LONGER)

    @property
    def place(self) -> tuple[bool, float, int]:
        """Its place among others: the rarest first, of equal ones the longest."""
        return not self.is_narrow, self.likely, -len(self.term.text)


def find_all(reading: Reading, terms: Sequence[Term], need: int) -> Hits:
    """The first ``need`` sites that all ``terms`` hold for."""
    few = None if reading.allowed is None else reading.allowed.few(FEW_ALLOWED)
    if few is not None:
        return all_of_them(Reading(reading.company_id).holding(terms, few))
    terms = sorted(terms, key=lambda term: (not term.drives, -len(term.text)))
    counted = _counted(reading, terms[:_LIKELY_RARE])
    if len(terms) > 2 and min(each.rows for each in counted) >= RARE:
        ids = sites_by_words(reading, counted, _MOST_READ)
        if ids is not None:
            found = reading.holding(terms, ids)
            return all_of_them(found) if found else _nothing(reading, terms)
        counted += _counted(reading, [term for term in terms[_LIKELY_RARE:] if term.drives])
    if min(each.rows for each in counted) == 0:
        return _nothing(reading, terms)
    uncounted = terms[len(counted) :]
    counted.sort(key=lambda each: each.place)
    terms = [*(each.term for each in counted), *uncounted]
    if not counted[0].is_narrow or (counted[0].rows >= RARE and len(terms) == 2):
        return _find_common(reading, terms, counted, need)
    found = reading.holding(terms, _meeting(reading, counted))
    return all_of_them(found) if found else _nothing(reading, terms)


def _find_common(reading: Reading, terms: Sequence[Term], counted: Sequence[Counted], need: int) -> Hits:
    """All terms are common, the rarest first: first the sites that have all as whole words, as far as these are found
    soon.

    What is tried is the same whatever is needed, so that pages follow each other.
    """
    first_sites = _GONE_THROUGH // backend().ROWS_PER_LOOK_UP
    found = _together(reading, terms, need, first_sites)
    if need > len(found) >= _NOT_FEW:
        found = _together(reading, terms, need, first_sites * _FURTHER)
    if len(found) >= need:
        return the_first(found)
    if counted[0].is_narrow:
        found = _joined(found, reading.holding(terms, _meeting(reading, counted)))
        return all_of_them(found) if found else _nothing(reading, terms)
    counted = _with_frequencies(reading, counted)
    ids = sites_by_words(reading, counted, _MOST_READ)
    if ids is not None:
        return all_of_them(_joined(found, reading.holding(terms, ids)))
    by_word = sorted(counted, key=lambda each: each.whole)
    words = [*(each.term for each in by_word), *(term for term in terms if term not in {each.term for each in counted})]
    if words[0] != terms[0] and backend().HAS_INDEX_OF_WORDS:
        found = _joined(found, _together(reading, words, need, first_sites))
    if len(found) < need:
        found = _joined(found, _with_the_very_words(reading, words, by_word, need))
    if len(found) >= need:
        return the_first(found)
    if found:
        return the_first(_joined(found, _tried(reading, terms, counted)))
    return _none_as_whole_words(reading, terms, _counted_far(reading, counted), need)


def _none_as_whole_words(reading: Reading, terms: Sequence[Term], counted: Sequence[Counted], need: int) -> Hits:
    """No site has all terms as whole words: those that begin, or begin and end codes, with some of them. Where few are
    soon found, all of them, which takes the longest.
    """
    found: list[Hit] = []
    if not counted[0].is_narrow:
        found = _tried(reading, terms, counted)
        if len(found) >= _NOT_FEW:
            return the_first(found)
    ids = _ids_of(reading, _meeting(reading, counted))
    for first in range(0, len(ids), _READ_AT_ONCE):
        read = first + _READ_AT_ONCE
        found = _joined(found, reading.holding(terms, ids[first:read]))
        if read < len(ids) and (len(found) >= need or (len(found) >= _NOT_FEW and read >= _MOST_READ)):
            return the_first(found)
    if len(ids) == _MOST_GATHERED:
        return the_first(found)
    return all_of_them(found) if found else _nothing(reading, terms)


def _tried(reading: Reading, terms: Sequence[Term], counted: Sequence[Counted]) -> list[Hit]:
    """Those that hold all terms among the first sites of the two rarest."""
    found: list[Hit] = []
    for each, rows in zip(counted, (_TRIED_FURTHER, _TRIED), strict=False):
        found = _joined(found, reading.holding(terms, reading.sites_of(each.term.ranges, rows)))
    return found


def _nothing(reading: Reading, terms: Sequence[Term]) -> Hits:
    """No site, and which terms none has: not for those who see a part of the company."""
    if reading.allowed is not None:
        return Hits([], 0)
    lengths = iter(reading.lengths([each for term in terms for each in term.ranges], 1))
    rows = {term: sum(islice(lengths, len(term.ranges))) for term in terms}
    return Hits([], 0, missing=tuple(term for term in terms if not rows[term]))


def _counted(reading: Reading, terms: Sequence[Term]) -> list[Counted]:
    cap = backend().NARROW
    lengths = iter(reading.lengths([part for term in terms for part in term.parts], cap))
    return [Counted(term, tuple(islice(lengths, len(term.parts))), cap) for term in terms]


def _counted_far(reading: Reading, counted: Sequence[Counted]) -> list[Counted]:
    """The same counted further, the rarest first."""
    unknown = [
        part for each in counted for part, rows in zip(each.term.parts, each.parts, strict=True) if rows == each.cap
    ]
    lengths = iter(reading.lengths(unknown, _FAR))
    known = [tuple(next(lengths) if rows == each.cap else rows for rows in each.parts) for each in counted]
    counted = [replace(each, parts=parts, cap=_FAR) for each, parts in zip(counted, known, strict=True)]
    return sorted(counted, key=lambda each: each.place)


def _with_frequencies(reading: Reading, counted: Sequence[Counted]) -> list[Counted]:
    """The same with estimates: the further apart the first rows of a word are, the rarer it is."""
    rows = backend().NARROW
    words = [each for each in counted if each.parts[0] == rows]
    if not words:
        return list(counted)
    whole, *spreads = reading.spreads([each.term.parts[0] for each in words], rows - 1)
    known = {each.term: rows * whole / spread for each, spread in zip(words, spreads, strict=True) if spread}
    known = {term: sites for term, sites in known.items() if sites}
    counted = [replace(each, with_word=known.get(each.term, _EVERY)) for each in counted]
    return sorted(counted, key=lambda each: each.place)


def _together(reading: Reading, terms: Sequence[Term], need: int, rows: int | None) -> list[Hit]:
    """The first sites that have all terms as whole words, among the first ``rows`` of the first term or all."""
    among, params = ("", []) if reading.allowed is None else reading.allowed.condition("first.site_id")
    first, *others = [term.whole for term in terms]
    words: list[int | str] = [value for word in first for value in (reading.company_id, word)]
    for each in others:
        words += (reading.company_id, *each)
    counts = [len(term.whole) for term in terms]
    sql = ranges.merged(counts, among) if rows is None else ranges.together(counts, rows, among)
    return [Hit(row[0], 0, False) for row in Statement(sql, [*words, *params, need]).run()]


def _with_the_very_words(reading: Reading, terms: Sequence[Term], counted: Sequence[Counted], need: int) -> list[Hit]:
    """Sites that have all terms as whole words, the rarest first: all of them where an index of words tells, or as many
    as are needed.
    """
    ids = sites_with_words(reading, terms, _MOST_READ)
    if ids is not None:
        return reading.holding(terms, ids) if reading.allowed is not None else [Hit(each, 0, False) for each in ids]
    side_by_side = not backend().HAS_INDEX_OF_WORDS and len(counted) > 1 and _are_alike(*counted[:2])
    return _together(reading, terms, need, None if side_by_side else _EVERY)


def _are_alike(first: Counted, second: Counted) -> bool:
    """Whether either is one word, and the second so little more common that both are soon gone through side by side."""
    are_words = len(first.term.whole) == len(second.term.whole) == 1
    return are_words and second.whole < _SIDE_BY_SIDE * first.whole


def _ids_of(reading: Reading, sites: Statement) -> list[int]:
    """Keys of the first ``sites``, no more than are gathered at most."""
    among, params = ("", []) if reading.allowed is None else reading.allowed.condition("shared.site_id")
    sql = f"SELECT DISTINCT site_id FROM ({sites.sql}) AS shared WHERE TRUE{among} ORDER BY 1 LIMIT {_MOST_GATHERED}"
    params = [*sites.params, *params]
    return [row[0] for row in Statement(sql, params).run()]


def _meeting(reading: Reading, counted: Sequence[Counted]) -> Statement:
    """The sites of the rarest term; where these are many, only those that others have too."""
    first, *further = counted
    sites = reading.sites_of(first.term.ranges)
    if not further or (first.is_narrow and first.rows <= FEW):
        return sites
    further = _with_longer(reading, further)
    second = further[0]
    looked_up = [each for each in further if each.can_be_looked_up][:_LOOKED_UP]
    if second.is_narrow or not (looked_up or first.is_narrow) or _is_sooner_gone_through(first, second):
        sql, params = reading.sites_of(second.term.ranges)
        sites = Statement(f"{sql} WHERE site_id IN ({sites.sql})", [*params, *sites.params])
        looked_up = [] if second.is_narrow else [each for each in looked_up if each != second]
    for each in sorted(looked_up, key=lambda each: len(each.longer)):
        sites = _those_with(reading, sites, each)
    return sites


def _with_longer(reading: Reading, counted: Sequence[Counted]) -> list[Counted]:
    """The same with the tokens that begin with a word, where only these keep it from being looked up."""
    asked = [each for each in counted if each.parts[1] >= backend().NARROW > max(each.parts[2:], default=0)]
    found = reading.distinct([each.term.parts[1] for each in asked], _LONGER_LOOKED_UP + 1)
    longer = {each: tokens for each, tokens in zip(asked, found, strict=True) if len(tokens) <= _LONGER_LOOKED_UP}
    return [replace(each, longer=tuple(longer.get(each, ()))) for each in counted]


def _is_sooner_gone_through(first: Counted, second: Counted) -> bool:
    """Whether a second term, though not narrow, is so little more common than the first that this takes less time."""
    return not first.is_narrow and second.likely < backend().ROWS_PER_LOOK_UP * first.likely


def _those_with(reading: Reading, sites: Statement, counted: Counted) -> Statement:
    """The ``sites`` that have a term: its very word is looked up site by site, the rest of it is gathered."""
    word, longer, *codes = counted.term.parts
    tokens = [word.start, *counted.longer]
    rest = codes if counted.longer else [longer, *codes]
    has = [ranges.has_token("one.site_id")] * len(tokens)
    if rest:
        has.append(f"site_id IN (SELECT site_id FROM ({ranges.sites(len(rest))}) AS rest)")
    few = f"{sites.sql} LIMIT {_EVERY}"  # found first: a look-up costs more than a planner thinks
    sql = f"SELECT site_id FROM ({few}) AS one WHERE {' OR '.join(has)}"
    keys = [key for token in tokens for key in (reading.company_id, token)]
    return Statement(sql, [*sites.params, *keys, *reading.bounds(rest)])


def _joined(found: list[Hit], more: Sequence[Hit]) -> list[Hit]:
    known = {hit.site_id for hit in found}
    return [*found, *(hit for hit in more if hit.site_id not in known)]
