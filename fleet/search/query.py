"""Finding sites: one page of what a member's text and filters mean."""

from __future__ import annotations

from dataclasses import dataclass, replace

from django.db.models import QuerySet

from fleet.models import Member, Site
from fleet.queries.visibility import own_site_ids, sees_only_own_sites, visible_sites
from fleet.search.allowed import Allowed
from fleet.search.corrections import nearly_alike, one_slip_away
from fleet.search.filters import NO_FILTERS, SiteFilters
from fleet.search.hits import COUNTED_UP_TO, Hit, Hits, all_of_them
from fleet.search.lookup import find
from fleet.search.narrowing import narrowed
from fleet.search.pasted import read_pasted
from fleet.search.reading import Reading
from fleet.search.results import SiteResults, SiteRow
from fleet.search.rows import site_rows
from fleet.search.terms import Term, exact_term, is_written_as_code, readings_of, words_of

PAGE = 25
DEEPEST = 1000
MOST_BY_KEY = 2000
_ENOUGH_UNCORRECTED = 8
_MOST_ALTERNATIVES = 40


def find_sites(
    *, member: Member, text: str, filters: SiteFilters = NO_FILTERS, limit: int = PAGE, offset: int = 0
) -> SiteResults:
    """The sites that ``member`` may see and that ``text`` and ``filters`` mean, best first.

    An empty text lists all of them, the newest first. Beyond ``DEEPEST`` results there are no pages.
    """
    offset, limit = max(0, offset), max(1, min(limit, DEEPEST))
    if offset + limit > DEEPEST + PAGE:
        return SiteResults(rows=[], total=COUNTED_UP_TO, total_capped=True)
    search = Search.by(member, filters)
    return _page(search, search.of(text, offset + limit + 1), offset, limit)


def searched_sites(member: Member) -> QuerySet[Site]:
    """What the member may see; a field member's few sites by their keys, so that no search looks through all others."""
    if sees_only_own_sites(member):
        ids = own_site_ids(member, MOST_BY_KEY + 1)
        if len(ids) <= MOST_BY_KEY:
            return Site.objects.filter(company_id=member.company_id, pk__in=ids)
    return visible_sites(member)


def counted(sites: QuerySet[Site]) -> tuple[int, bool]:
    """How many sites there are up to ``COUNTED_UP_TO``, and whether there are more."""
    total = sites.order_by()[: COUNTED_UP_TO + 1].count()
    return min(total, COUNTED_UP_TO), total > COUNTED_UP_TO


def sites_of_text(member: Member, text: str) -> list[int]:
    """The ids of the first ``DEEPEST`` visible sites that a text means, whatever the filters."""
    outcome = Search.by(member, NO_FILTERS).of(text, DEEPEST)
    return [hit.site_id for hit in outcome.hits.found[:DEEPEST]]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What was found, by which terms."""

    hits: Hits
    terms: tuple[Term, ...] = ()
    corrected: Term | None = None
    read_as: str = ""
    """The serial number or site code that a pasted label was read as."""


@dataclass(frozen=True, slots=True)
class Search:
    """A search on behalf of one member."""

    member: Member
    filters: SiteFilters
    reading: Reading

    @classmethod
    def by(cls, member: Member, filters: SiteFilters) -> Search:
        """Among all that the member may see and the filters leave."""
        narrow = bool(filters) or sees_only_own_sites(member)
        allowed = Allowed(narrowed(searched_sites(member), member, filters, from_rows=True)) if narrow else None
        return cls(member, filters, Reading(member.company_id, allowed))

    def of(self, text: str, need: int) -> Outcome:
        """Sites of what a pasted label says, or of a typed text."""
        pasted = read_pasted(self.member.company, text)
        if pasted is None:
            return self._of_typed(text, need)
        hits = Hits([], 0)
        for term in pasted.terms:
            hits = _joined(hits, find(self.reading, [term], need))
        return Outcome(hits, tuple(pasted.terms), read_as=pasted.read_as)

    def _of_typed(self, text: str, need: int) -> Outcome:
        """Sites of a typed text: its meanings in turn until one page is full or one is exactly it."""
        readings = readings_of(text)
        if not readings:
            return Outcome(self._newest(need) if not text.strip() else Hits([], 0))
        hits = Hits([], 0)
        used: list[Term] = []
        words = words_of(text)
        missing: tuple[Term, ...] = ()
        for terms in readings:
            if terms == words and hits.found and is_written_as_code(text):
                break
            found = find(self.reading, terms, need)
            missing = found.missing if terms == words else missing
            hits = _joined(hits, found)
            used += [term for term in terms if found.found and term not in used]
            if len(hits.found) >= need or (hits.found and hits.found[0].tier < 2):
                break
        else:
            if len(hits.found) < _ENOUGH_UNCORRECTED:
                return self._with_corrections(hits, tuple(used), words, missing, need)
        return Outcome(hits, tuple(used))

    def _newest(self, need: int) -> Hits:
        sites = searched_sites(self.member)
        if self.reading.allowed is not None:
            sites = self.reading.allowed.sites
        ids = list(sites.order_by("-pk").values_list("pk", flat=True)[:need])
        found = [Hit(site_id, 0, False) for site_id in ids]
        return all_of_them(found) if len(ids) < need else Hits(found, *counted(sites))

    def _with_corrections(
        self, hits: Hits, used: tuple[Term, ...], terms: list[Term], missing: tuple[Term, ...], need: int
    ) -> Outcome:
        """Append what is found with one word corrected; of several words only where nothing was found."""
        if hits.found and len(terms) > 1:
            return Outcome(hits, used)
        suspects = [term for term in missing or terms if term.word]
        if len(suspects) < len(missing):
            return Outcome(hits, used)  # a word that cannot be mistyped is nowhere
        for suspect in sorted(suspects, key=lambda term: -len(term.word))[:4]:
            for correction in self._corrections(suspect.word):
                instead = [correction if term == suspect else term for term in terms]
                found = find(self.reading, instead, need)
                if found.found:
                    return Outcome(_joined(hits, found), (*used, *instead), correction)
        return Outcome(hits, used)

    def _corrections(self, word: str) -> list[Term]:
        company_id = self.member.company_id
        near = one_slip_away(company_id, word)[:_MOST_ALTERNATIVES]
        if near:
            return [exact_term(near)]
        if sees_only_own_sites(self.member):
            return []  # which words are the most alike would depend on words of hidden sites
        alike = nearly_alike(company_id, word)
        return [exact_term(alike)] if alike else []


def _joined(first: Hits, then: Hits) -> Hits:
    if not first.found:
        return then
    known = {hit.site_id for hit in first.found}
    more = [hit for hit in then.found if hit.site_id not in known]
    total = min(first.total + len(more), COUNTED_UP_TO)
    return replace(first, found=[*first.found, *more], total=total, capped=first.capped or then.capped)


def _page(search: Search, outcome: Outcome, offset: int, limit: int) -> SiteResults:
    shown = outcome.hits.found[offset : offset + limit]
    rows = site_rows(search.member.company_id, shown, outcome.terms)
    return SiteResults(
        rows=rows,
        total=outcome.hits.total,
        total_capped=outcome.hits.capped,
        further=len(outcome.hits.found) > offset + limit,
        corrected_to=_corrected_to(outcome.corrected, rows),
        read_as=outcome.read_as,
    )


def _corrected_to(correction: Term | None, rows: list[SiteRow]) -> str:
    """Of the words that were tried, those that stand in the rows on the page, as they are written there."""
    if correction is None:
        return ""
    from fleet.search.highlight import written_forms

    wanted = {each.start[1:] for each in correction.ranges}
    forms = {form: None for row in rows for match in row.matched for form in written_forms(match, wanted)}
    return ", ".join(forms)
