"""Looking terms up in the clustered tables.

One term is a scan of each of its ranges, with a limit: what it costs does not depend on how many match. Several terms
are counted first, up to a cap; the sites of the rarest are taken, and the others are looked for in their documents.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, cast

from django.db import connection

from fleet.search.allowed import Allowed
from fleet.search.backend import backend
from fleet.search.holding import held
from fleet.search.terms import Range, Term
from fleet.search.tokens import PAST

COUNTED_UP_TO = 1000
RARE = 400
LESS_RARE = 1500
FEW = 60  # so few documents are read sooner than a second range is gone through
_TRIED = 150  # rows of each range of a common word whose sites are tried first
_INTERSECTED = 1100
_DUPLICATES = 8
_AFTER_ALL = "\U0010ffff"


class Hit(NamedTuple):
    """A site that was found: how well (the smaller, the better), and whether only by what was so once."""

    site_id: int
    tier: int
    past: bool


@dataclass(frozen=True, slots=True)
class Hits:
    """What a lookup found, best first; ``total`` is exact unless ``capped``."""

    found: list[Hit]
    total: int
    capped: bool = False
    missing: tuple[Term, ...] = ()
    """The terms that nothing was found for, where that is known."""


@dataclass(frozen=True, slots=True)
class Lookup:
    """Lookups in one company, among all of its sites or the ``allowed`` ones."""

    company_id: int
    allowed: Allowed | None = None

    def find(self, terms: Sequence[Term], need: int) -> Hits:
        """The first ``need`` sites that all ``terms`` hold for."""
        if len(terms) == 1 and self.allowed is None:
            return self._find_one(terms[0], need)
        return self._find_all(terms, need)

    # --- one term: ranges alone ---------------------------------------------------------------------------------------

    def _find_one(self, term: Term, need: int) -> Hits:
        limit = need + _DUPLICATES
        while True:
            per_range = self._scan(term.ranges, limit)
            if all(len(rows) < limit or _distinct(rows) >= need for rows in per_range):
                break
            limit *= 4
        ranked = _ranked(term, self._verified(term, per_range))
        if all(len(rows) < limit for rows in per_range):
            return Hits(ranked, len(ranked), missing=() if ranked else (term,))
        total, capped = self._count_distinct(term.ranges)
        return Hits(ranked, max(total, min(len(ranked), COUNTED_UP_TO)), capped)

    def _scan(self, ranges: Sequence[Range], limit: int) -> list[list[tuple[str, int]]]:
        rows: list[list[tuple[str, int]]] = [[] for _ in ranges]
        for part, token, site_id in _rows(backend().first_rows(self.company_id, len(ranges), limit), _bounds(ranges)):
            rows[part].append((token, site_id))
        for part_rows in rows:
            part_rows.sort()  # the parts' rows come in no order
        return rows

    def _verified(self, term: Term, per_range: list[list[tuple[str, int]]]) -> list[list[tuple[str, int]]]:
        """Rows of ranges that say how a code must end, only where the site has such a code."""
        pairs = list(zip(term.ranges, per_range, strict=True))
        sure = {site_id for each, rows in pairs if not each.ends for _token, site_id in rows}
        unsure = {site_id for each, rows in pairs if each.ends for _token, site_id in rows} - sure
        true: set[int] = set()
        if unsure:
            ending = Term("", tuple(each for each in term.ranges if each.ends))
            true = {hit.site_id for hit in self._check([ending], sorted(unsure))}
        return [[row for row in rows if row[1] in true] if each.ends else rows for each, rows in pairs]

    def _count_distinct(self, ranges: Sequence[Range]) -> tuple[int, bool]:
        """How many sites the ranges have, and whether there may be more."""
        scanned = COUNTED_UP_TO * 3 // 2
        sites, bounds = self._distinct_sites(ranges, scanned)
        rows = backend().counts(self.company_id, len(ranges), scanned)
        # The longest range is only asked for where few sites were found: it may be longer than what was looked at.
        [(distinct, longest)] = _rows(
            f"SELECT n, CASE WHEN n <= {COUNTED_UP_TO} THEN (SELECT max(rows) FROM ({rows}) AS each_range) END "
            f"FROM (SELECT count(*) AS n FROM ({sites} LIMIT {COUNTED_UP_TO + 1}) AS each_once) AS counted",
            bounds * 2,
        )
        return min(distinct, COUNTED_UP_TO), distinct > COUNTED_UP_TO or longest >= scanned

    # --- several terms: the rarest drives -----------------------------------------------------------------------------

    def _find_all(self, terms: Sequence[Term], need: int) -> Hits:
        few = None if self.allowed is None else self.allowed.few(RARE)
        if few is not None:
            return Lookup(self.company_id)._complete(terms, few)
        counts = self._count_terms(terms, RARE)
        missing = tuple(term for term, count in zip(terms, counts, strict=True) if count == 0)
        if missing:  # that a word stands nowhere in the company is not for those who see a part of it
            return Hits([], 0, missing=missing if self.allowed is None else ())
        terms = _rarest_first(terms, counts)
        rare = terms[: sum(count < RARE for count in counts)]
        if rare:
            return self._complete(terms, _ids(*self._common_sites(rare[: 1 if min(counts) <= FEW else 2], RARE)))
        return self._find_common(terms, need)

    def _complete(self, terms: Sequence[Term], candidates: Sequence[int]) -> Hits:
        """All sites among ``candidates`` that hold all terms."""
        found = self._check(terms, candidates)
        return Hits(found, len(found))

    def _find_common(self, terms: Sequence[Term], need: int) -> Hits:
        """All terms are common: look among the first sites of each in turn, then look where the two rarest meet.

        What is tried is the same whatever is needed, so that pages follow each other.
        """
        found: dict[int, Hit] = {}
        longest = max(terms, key=lambda term: (term.drives, len(term.text)))
        if self._try(longest, _TRIED, terms, found) >= need:
            return Hits(list(found.values()), len(found), capped=True)
        counts = self._count_terms(terms, LESS_RARE)
        terms = _rarest_first(terms, counts)
        further = [(term, _TRIED) for term in terms if term.drives and term != longest]
        if min(counts) < LESS_RARE:
            further = further[:1]
        else:
            further.append((terms[0], COUNTED_UP_TO))
        for term, rows in further:
            if self._try(term, rows, terms, found) >= need:
                return Hits(list(found.values()), len(found), capped=True)
        ids = self._meeting(terms)
        for hit in self._check(terms, ids):
            found.setdefault(hit.site_id, hit)
        return Hits(list(found.values()), min(len(found), COUNTED_UP_TO), capped=len(ids) > _INTERSECTED)

    def _try(self, driver: Term, rows: int, terms: Sequence[Term], found: dict[int, Hit]) -> int:
        """Add what the first so many ``rows`` of ``driver`` hold to what was found; answers how many that is now."""
        for hit in self._check(terms, _ids(*self._distinct_sites(driver.ranges, rows))):
            found.setdefault(hit.site_id, hit)
        return len(found)

    def _meeting(self, terms: Sequence[Term]) -> list[int]:
        """The sites that the first two terms share; where these are very many, some that all of them share."""
        for together in (terms[:2], terms):
            sql, params = self._common_sites(together)
            if self.allowed is not None:
                sql, params = f"{sql} INTERSECT {self.allowed.sql}", [*params, *self.allowed.params]
            ids = _ids(f"SELECT site_id FROM ({sql}) AS shared ORDER BY 1 LIMIT {_INTERSECTED + 1}", params)
            if len(ids) <= _INTERSECTED:
                break
        return ids

    def _common_sites(self, terms: Sequence[Term], rows: int | None = None) -> tuple[str, list[Any]]:
        """The sites that all of these terms' ranges have; ``rows``: no range has more of them.

        The first term should have the fewest: it is held, the others are gone through.
        """
        sql, params = self._distinct_sites(terms[0].ranges, rows)
        for term in terms[1:]:
            further, bounds = self._distinct_sites(term.ranges, rows)
            sql, params = f"{further} WHERE site_id IN ({sql})", [*bounds, *params]
        return sql, params

    def _distinct_sites(self, ranges: Sequence[Range], rows: int | None = None) -> tuple[str, list[Any]]:
        sql = backend().sites(self.company_id, len(ranges), rows)
        return f"SELECT DISTINCT site_id FROM ({sql}) AS hit", _bounds(ranges)

    def _check(self, terms: Sequence[Term], candidates: Sequence[int]) -> list[Hit]:
        """Those candidates that hold all terms, best first."""
        # By their keys, and not joined to what found them: no planner can then take the way through all documents.
        these, given = backend().one_of("d.site_id", candidates)
        among, among_params = ("", []) if self.allowed is None else self.allowed.condition("d.site_id")
        rows = _rows(
            f"SELECT d.site_id, d.tokens, d.past_tokens FROM fleet_searchdocument AS d "
            f"WHERE d.company_id = %s AND {these}{among}",
            [self.company_id, given, *among_params],
        )
        hits = []
        for site_id, tokens, past_tokens in rows:
            if (how := held(terms, tokens, past_tokens)) is not None:
                hits.append(Hit(site_id, 2 * (len(terms) - how.whole) + how.past, how.past))
        return sorted(hits, key=lambda hit: (hit.tier, hit.site_id))

    def _count_terms(self, terms: Sequence[Term], cap: int) -> list[int]:
        """How many rows the ranges of each term have, each up to ``cap``."""
        each_range = iter(self._counts([each for term in terms for each in term.ranges], cap))
        return [sum(next(each_range) for _ in term.ranges) for term in terms]

    def _counts(self, ranges: Sequence[Range], cap: int) -> list[int]:
        """How many rows each range has, up to ``cap``."""
        return [row[1] for row in sorted(_rows(backend().counts(self.company_id, len(ranges), cap), _bounds(ranges)))]


def _rarest_first(terms: Sequence[Term], counts: Sequence[int]) -> list[Term]:
    """The terms in the order of their counts, of equal ones the longest first."""
    ordered = sorted(zip(counts, terms, strict=True), key=lambda pair: (pair[0], -len(pair[1].text)))
    return [term for _count, term in ordered]


def _rows(sql: str, params: Sequence[Any]) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        return cast("list[tuple[Any, ...]]", cursor.fetchall())


def _bounds(ranges: Sequence[Range]) -> list[str]:
    """The first and the last token of each range, one after the other."""
    return [bound for each in ranges for bound in (each.start, each.start + (PAST if each.exact else _AFTER_ALL))]


def _ids(sql: str, params: Sequence[Any]) -> list[int]:
    return [row[0] for row in _rows(sql, params)]


def _distinct(rows: list[tuple[str, int]]) -> int:
    return len({site_id for _token, site_id in rows})


def _ranked(term: Term, per_range: list[list[tuple[str, int]]]) -> list[Hit]:
    """Exact before prefix before ending; what was so once after what is so now."""
    best: dict[int, Hit] = {}
    for each, rows in zip(term.ranges, per_range, strict=True):
        for token, site_id in rows:
            past = token.endswith(PAST)
            kind = 2 if each.start.startswith("r") else 0 if token.rstrip(PAST) == each.start else 1
            hit = Hit(site_id, 2 * kind + past, past)
            if site_id not in best or hit.tier < best[site_id].tier:
                best[site_id] = hit
    return sorted(best.values(), key=lambda hit: hit.tier)
