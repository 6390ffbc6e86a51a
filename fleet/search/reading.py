"""What is read of the clustered tables in one company: ranges of tokens, how long they are, and documents."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from fleet.search import ranges
from fleet.search.allowed import Allowed
from fleet.search.backend import backend
from fleet.search.hits import Hit
from fleet.search.holding import held
from fleet.search.statements import Statement
from fleet.search.terms import Range, Term


@dataclass(frozen=True, slots=True)
class Reading:
    """Reads of one company's tokens; of its documents, or of the ``allowed`` ones."""

    company_id: int
    allowed: Allowed | None = None

    def first_rows(self, scanned: Sequence[Range], limit: int, *, beyond: int | None) -> list[list[tuple[str, int]]]:
        """(token, site) of the first rows of each range, in order; see :func:`fleet.search.ranges.first_rows`."""
        rows: list[list[tuple[str, int]]] = [[] for _ in scanned]
        sql = ranges.first_rows(len(scanned), limit, beyond=beyond)
        for part, token, site_id in Statement(sql, ranges.named(self.company_id, scanned)).run():
            rows[part].append((token, site_id))
        for part_rows in rows:
            part_rows.sort()
        return rows

    def lengths(self, scanned: Sequence[Range], cap: int) -> list[int]:
        """How many rows each range has, up to ``cap``."""
        if not scanned:
            return []
        rows = Statement(ranges.counts(len(scanned), cap), ranges.named(self.company_id, scanned)).run()
        return [count for _part, count in sorted(rows)]

    def distinct(self, scanned: Sequence[Range], most: int) -> list[list[str]]:
        """The first ``most`` of the different tokens of each range."""
        tokens: list[list[str]] = [[] for _ in scanned]
        if scanned:
            leaps = Statement(ranges.distinct(len(scanned), most), ranges.named(self.company_id, scanned))
            for part, token in leaps.run():
                tokens[part].append(token)
        return tokens

    def spreads(self, scanned: Sequence[Range], rows: int) -> list[int]:
        """Over how many site ids the company is spread, and the first ``rows`` of each range, which has more."""
        found = Statement(ranges.spreads(len(scanned), rows), ranges.named(self.company_id, scanned)).run()
        return [spread for _part, spread in sorted(found)]

    def sites_of(self, scanned: Sequence[Range], rows: int | None = None) -> Statement:
        """The sites that the ranges have, some more than once; of every range the first so many ``rows``, or all."""
        sql = f"SELECT site_id FROM ({ranges.sites(len(scanned), rows)}) AS hit"
        return Statement(sql, self.bounds(scanned))

    def holding(self, terms: Sequence[Term], candidates: Statement | Sequence[int]) -> list[Hit]:
        """Those ``candidates`` whose documents hold all terms, best first."""
        if isinstance(candidates, Statement):
            these, given = backend().one_found("d.site_id", candidates.sql), candidates.params
        else:
            these, key = backend().one_of("d.site_id", candidates)
            given = [key]
        among, among_params = ("", []) if self.allowed is None else self.allowed.condition("d.site_id")
        sql = (
            "SELECT d.site_id, d.tokens, d.past_tokens FROM fleet_searchdocument AS d "
            f"WHERE d.company_id = %s AND {these}{among}"
        )
        hits = []
        for site_id, tokens, past_tokens in Statement(sql, [self.company_id, *given, *among_params]).run():
            if (how := held(terms, tokens, past_tokens)) is not None:
                hits.append(Hit(site_id, 2 * (len(terms) - how.whole) + how.past, how.past))
        return sorted(hits, key=lambda hit: (hit.tier, hit.site_id))

    def bounds(self, scanned: Sequence[Range]) -> list[Any]:
        """The parameters of a statement over these ranges."""
        return [*ranges.bounds(self.company_id, scanned)]
