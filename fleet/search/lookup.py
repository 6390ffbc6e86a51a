"""Looking terms up: one is a scan of each of its ranges, with a limit, and costs the same however many match."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain, zip_longest

from fleet.search.backend import backend
from fleet.search.hits import COUNTED_UP_TO, Hit, Hits
from fleet.search.reading import Reading
from fleet.search.several import find_all
from fleet.search.statements import Statement
from fleet.search.terms import Range, Term
from fleet.search.tokens import PAST

_DUPLICATES = 8
Rows = list[tuple[str, int]]


def find(reading: Reading, terms: Sequence[Term], need: int) -> Hits:
    """The first ``need`` sites that all ``terms`` hold for."""
    if len(terms) == 1 and reading.allowed is None:
        return _find_one(reading, terms[0], need)
    return find_all(reading, terms, need)


def _find_one(reading: Reading, term: Term, need: int) -> Hits:
    limit = need + _DUPLICATES
    while True:
        per_range, is_common = _scan(reading, term, limit)
        if all(len(rows) < limit or _distinct(rows) >= need for rows in per_range):
            break
        limit *= 4
    ranked = _ranked(term, _verified(reading, term, per_range))
    if all(len(rows) < limit for rows in per_range):
        return Hits(ranked, len(ranked), missing=() if ranked else (term,))
    if is_common:
        return Hits(ranked, COUNTED_UP_TO, capped=True)
    total, capped = _count(reading, [each for each, rows in zip(term.ranges, per_range, strict=True) if rows])
    return Hits(ranked, max(total, min(len(ranked), COUNTED_UP_TO)), capped)


def _scan(reading: Reading, term: Term, limit: int) -> tuple[list[Rows], bool]:
    """The first rows of each range, and whether more sites than are counted have the very word."""
    word = term.as_whole_word
    if word is None:
        return reading.first_rows(term.ranges, limit, beyond=None), False
    *rows, beyond = reading.first_rows([*term.ranges, word], limit, beyond=COUNTED_UP_TO)
    return rows, bool(beyond)


def _verified(reading: Reading, term: Term, per_range: list[Rows]) -> list[Rows]:
    """Rows of ranges that say how a code must end, only where the site has such a code."""
    pairs = list(zip(term.ranges, per_range, strict=True))
    sure = {site_id for each, rows in pairs if not each.ends for _token, site_id in rows}
    unsure = {site_id for each, rows in pairs if each.ends for _token, site_id in rows} - sure
    true: set[int] = set()
    if unsure:
        ending = Term("", tuple(each for each in term.ranges if each.ends))
        true = {hit.site_id for hit in reading.holding([ending], sorted(unsure))}
    return [[row for row in rows if row[1] in true] if each.ends else rows for each, rows in pairs]


def _count(reading: Reading, scanned: Sequence[Range]) -> tuple[int, bool]:
    """How many sites the ranges have, and whether there may be more."""
    if len(scanned) == 1 and scanned[0].exact:  # a site has one token but once
        [rows] = reading.lengths(scanned, COUNTED_UP_TO + 1)
        return min(rows, COUNTED_UP_TO), rows > COUNTED_UP_TO
    most = COUNTED_UP_TO * 3 // 2
    sql = backend().count_distinct(len(scanned), COUNTED_UP_TO, most)
    [(distinct, rows)] = Statement(sql, reading.bounds(scanned)).run()
    if distinct > COUNTED_UP_TO:
        return COUNTED_UP_TO, True
    # Only so many rows can hide that a range is longer than what was looked at.
    return distinct, rows >= most and max(reading.lengths(scanned, most)) >= most


def _distinct(rows: Rows) -> int:
    return len({site_id for _token, site_id in rows})


def _ranked(term: Term, per_range: list[Rows]) -> list[Hit]:
    """Exact before prefix before ending; what was so once after what is so now. Ranges take turns, so that of several
    words that a mistyped one may mean each is on the first page.
    """
    best: dict[int, Hit] = {}
    hits = [[_hit(each, *row) for row in rows] for each, rows in zip(term.ranges, per_range, strict=True)]
    for hit in chain.from_iterable(zip_longest(*hits)):
        if hit is not None and (hit.site_id not in best or hit.tier < best[hit.site_id].tier):
            best.pop(hit.site_id, None)  # its place is that of its best row, however many rows were looked at
            best[hit.site_id] = hit
    return sorted(best.values(), key=lambda hit: hit.tier)


def _hit(found_by: Range, token: str, site_id: int) -> Hit:
    past = token.endswith(PAST)
    kind = 2 if found_by.start.startswith("r") else 0 if token.rstrip(PAST) == found_by.start else 1
    return Hit(site_id, 2 * kind + past, past)
