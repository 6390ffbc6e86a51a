"""Looking terms up in the clustered tables.

One term is a scan of each of its ranges, with a limit: what it costs does not depend on how many match. Several terms
are counted first, up to a cap; the rarest drives and the others are checked on the documents of its sites.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple, cast

from django.db import connection

from fleet.search.allowed import Allowed
from fleet.search.backend import backend
from fleet.search.tables import TOKENS
from fleet.search.terms import Range, Term
from fleet.search.tokens import PAST

COUNTED_UP_TO = 1000
RARE = 400
_STREAMED = ((0, 150), (150, 850))  # of each range of the driving term: from which row, how many rows
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
        parts, params = [], []
        for number, each in enumerate(ranges):
            sql, given = self._range_sql(each, "token, site_id")
            parts.append(
                f"SELECT {number} AS part, token, site_id FROM "
                f"({sql} ORDER BY token, site_id LIMIT {int(limit)}) AS part{number}"
            )
            params += given
        rows: list[list[tuple[str, int]]] = [[] for _ in ranges]
        for part, token, site_id in _rows(" UNION ALL ".join(parts), params):
            rows[part].append((token, site_id))
        for part_rows in rows:
            part_rows.sort()  # UNION ALL promises no order
        return rows

    def _verified(self, term: Term, per_range: list[list[tuple[str, int]]]) -> list[list[tuple[str, int]]]:
        """Rows of ranges that say how a code must end, only where the site has such a code."""
        checked = []
        sure = {row[1] for each, rows in zip(term.ranges, per_range, strict=True) if not each.ends for row in rows}
        for each, rows in zip(term.ranges, per_range, strict=True):
            if each.ends:
                rows = [row for row in rows if row[1] not in sure]
            if each.ends and rows:
                sql, params = _holds(Term("", (each,)))
                ids = ", ".join(str(site_id) for _token, site_id in rows)
                query = f"SELECT d.site_id FROM fleet_searchdocument AS d WHERE d.site_id IN ({ids}) AND {sql}"
                true = {row[0] for row in _rows(query, params)}
                rows = [row for row in rows if row[1] in true]
            checked.append(rows)
        return checked

    def _count_distinct(self, ranges: Sequence[Range]) -> tuple[int, bool]:
        parts, params = [], []
        scanned = COUNTED_UP_TO * 3 // 2
        for number, each in enumerate(ranges):
            sql, given = self._range_sql(each, "site_id")
            parts.append(f"SELECT site_id FROM ({sql} LIMIT {scanned}) AS part{number}")
            params += given
        distinct = _rows(f"SELECT count(*) FROM ({' UNION '.join(parts)}) AS each_once", params)[0][0]
        if distinct >= COUNTED_UP_TO:
            return COUNTED_UP_TO, distinct > COUNTED_UP_TO
        return distinct, self._longest_range(ranges, scanned) >= scanned

    def _longest_range(self, ranges: Sequence[Range], cap: int) -> int:
        return max(self._count_rows(ranges, cap))

    # --- several terms: the rarest drives -----------------------------------------------------------------------------

    def _find_all(self, terms: Sequence[Term], need: int) -> Hits:
        few = None if self.allowed is None else self.allowed.few(RARE)
        if few is not None:
            candidates = f"SELECT site_id FROM fleet_searchdocument WHERE site_id IN ({_ids(few)})"
            return Lookup(self.company_id)._complete(terms, candidates, [])
        counts = self._count_terms(terms)
        missing = tuple(term for term, count in zip(terms, counts, strict=True) if count == 0)
        if missing:  # that a word stands nowhere in the company is not for those who see a part of it
            return Hits([], 0, missing=missing if self.allowed is None else ())
        terms = [term for _count, term in sorted(zip(counts, terms, strict=True), key=lambda pair: pair[0])]
        driver, count = self._driver(terms, sorted(counts))
        if count < RARE:
            return self._complete(terms, *self._sites_sql(driver), sure=driver)
        return self._stream(terms, driver, need)

    def _driver(self, terms: Sequence[Term], counts: Sequence[int]) -> tuple[Term, int]:
        pairs = list(zip(terms, counts, strict=True))
        able = [pair for pair in pairs if pair[0].drives] or pairs
        return min(able, key=lambda pair: (pair[1], -len(pair[0].text)))

    def _complete(self, terms: Sequence[Term], candidates: str, params: list[Any], sure: Term | None = None) -> Hits:
        """All sites among ``candidates`` that hold all terms."""
        found = self._check(terms, candidates, params, sure)
        return Hits(found, len(found))

    def _stream(self, terms: Sequence[Term], driver: Term, need: int) -> Hits:
        """All terms are common: try the driver's first sites, then some more, then intersect everything.

        The parts are the same whatever is needed, so that pages follow each other.
        """
        found: dict[int, Hit] = {}
        for part in _STREAMED:
            for hit in self._check(terms, *self._sites_sql(driver, part), sure=driver):
                found.setdefault(hit.site_id, hit)
            if len(found) >= need:
                return Hits(list(found.values()), len(found), capped=True)
        ids = self._intersection(terms)
        for hit in self._check(terms, f"SELECT id AS site_id FROM fleet_site WHERE id IN ({_ids(ids)})", []):
            found.setdefault(hit.site_id, hit)
        return Hits(list(found.values()), min(len(found), COUNTED_UP_TO), capped=len(ids) == _INTERSECTED)

    def _intersection(self, terms: Sequence[Term]) -> list[int]:
        parts: list[str] = []
        params: list[Any] = []
        for term in terms:
            sql, given = self._sites_sql(term)
            parts.append(f"SELECT site_id FROM ({sql}) AS of_term")
            params += given
        if self.allowed is not None:
            parts.append(self.allowed.sql)
            params += self.allowed.params
        return [row[0] for row in _rows(f"{' INTERSECT '.join(parts)} ORDER BY 1 LIMIT {_INTERSECTED}", params)]

    def _check(self, terms: Sequence[Term], candidates: str, params: list[Any], sure: Term | None = None) -> list[Hit]:
        """Those candidates that hold all terms; of the ``sure`` one that is known. The rarest is asked first."""
        asked = [term for term in terms if term != sure or any(each.ends for each in term.ranges)] or terms
        present, present_params = _all_hold(terms, ("d.tokens",))
        holds, holds_params = _all_hold(asked, ("d.tokens", "d.past_tokens"))
        exact, exact_params = _exactness(terms)
        among, among_params = ("", []) if self.allowed is None else self.allowed.condition("d.site_id")
        rows = _rows(
            f"SELECT d.site_id, CASE WHEN {present} THEN 1 ELSE 0 END, {exact} FROM ({candidates}) AS c "
            f"JOIN fleet_searchdocument AS d ON d.site_id = c.site_id "
            f"WHERE d.company_id = %s AND {holds}{among}",
            [*present_params, *exact_params, *params, self.company_id, *holds_params, *among_params],
        )
        hits = {site_id: Hit(site_id, 2 * (len(terms) - exact) + (not now), not now) for site_id, now, exact in rows}
        return sorted(hits.values(), key=lambda hit: hit.tier)

    # --- pieces of SQL ------------------------------------------------------------------------------------------------

    def _range_sql(self, each: Range, columns: str) -> tuple[str, list[Any]]:
        end = each.start + PAST if each.exact else each.start + _AFTER_ALL
        return (
            f"SELECT {columns} FROM {TOKENS} WHERE company_id = %s AND token >= %s AND token <= %s",
            [self.company_id, each.start, end],
        )

    def _sites_sql(self, term: Term, part: tuple[int, int] | None = None) -> tuple[str, list[Any]]:
        parts, params = [], []
        for number, each in enumerate(term.ranges):
            sql, given = self._range_sql(each, "site_id")
            if part is not None:
                first, rows = part
                sql = f"{sql} ORDER BY token, site_id LIMIT {rows} OFFSET {first}"
                sql = f"SELECT site_id FROM ({sql}) AS part{number}"
            parts.append(sql)
            params += given
        return " UNION ".join(parts), params

    def _count_terms(self, terms: Sequence[Term]) -> list[int]:
        counts = iter(self._count_rows([each for term in terms for each in term.ranges], RARE))
        return [sum(next(counts) for _ in term.ranges) for term in terms]

    def _count_rows(self, ranges: Sequence[Range], cap: int) -> list[int]:
        parts, params = [], []
        for each in ranges:
            sql, given = self._range_sql(each, "1")
            parts.append(f"(SELECT count(*) FROM ({sql} LIMIT {cap}) AS counted)")
            params += given
        return list(_rows(f"SELECT {', '.join(parts)}", params)[0])


def _rows(sql: str, params: Sequence[Any]) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(sql, params)
        return cast("list[tuple[Any, ...]]", cursor.fetchall())


def _ids(site_ids: Sequence[int]) -> str:
    return ", ".join(str(int(site_id)) for site_id in site_ids) or "NULL"


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


def _all_hold(terms: Sequence[Term], columns: tuple[str, ...]) -> tuple[str, list[Any]]:
    parts, params = [], []
    for term in terms:
        sql, given = _holds(term, columns)
        parts.append(sql)
        params += given
    return " AND ".join(parts), params


def _holds(term: Term, columns: tuple[str, ...] = ("d.tokens", "d.past_tokens")) -> tuple[str, list[Any]]:
    """The condition that a document holds a term."""
    parts, params = [], []
    for column in columns:
        contains = backend().contains(column)
        tail = PAST + "\n" if column.endswith("past_tokens") else "\n"
        for each in term.ranges:
            parts.append(f"({contains} AND {contains})" if each.ends else contains)
            params.append("\n" + each.start + (tail if each.exact else ""))
            if each.ends:
                params.append(each.ends + tail)
    return f"({' OR '.join(parts)})", params


def _exactness(terms: Sequence[Term]) -> tuple[str, list[Any]]:
    """How many of the terms a document holds as whole words or codes."""
    contains = backend().contains("d.tokens")
    parts, params = [], []
    for term in terms:
        starts = [each.start for each in term.ranges if not each.start.startswith("r")]
        parts.append(f"CASE WHEN {' OR '.join([contains] * len(starts))} THEN 1 ELSE 0 END")
        params += [f"\n{start}\n" for start in starts]
    return f"({' + '.join(parts)})", params
