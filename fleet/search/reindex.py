"""Writing the index: called in the transaction of each change, and by the sweep and the rebuild."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from django.db import transaction

from fleet.models import SearchDocument, SearchMark, SiteSummary
from fleet.search.backend import backend
from fleet.search.document import Document, document_of
from fleet.search.put import put_rows
from fleet.search.sources import Part, Rows, read_sites
from fleet.search.statements import Statement
from fleet.search.summary import KEPT, summary_of
from fleet.search.tokens import EDITION, variants_of, vocabulary_of

CHUNK = 500
_STORED = Part(
    "stored",
    "fleet_searchdocument",
    "site_id",
    ("CAST(company_id AS text)", "CAST(edition AS text)", "tokens", "past_tokens", "shown"),
)


def reindex(site_ids: Iterable[int], *, trusting: bool = True) -> None:
    """Write what searches and lists read of these sites, and clear their marks.

    Called in the transaction of each change, after its last write. Sites that are gone leave the index.
    ``trusting``: the tokens that a stored document speaks of are there; otherwise they are written once more.
    """
    ids = sorted(set(site_ids))
    for start in range(0, len(ids), CHUNK):
        with transaction.atomic(savepoint=False):
            _reindex_chunk(ids[start : start + CHUNK], trusting)


def _reindex_chunk(ids: list[int], trusting: bool) -> None:
    # Marks go before anything is read: a later change marks again.
    companies = dict(backend().together([_clear_marks(ids), backend().lock_sites(ids)]))
    changes = Changes(trusting)
    for site_id, rows in read_sites(ids, _STORED, KEPT).items():
        stored = _stored_row(site_id, rows)
        if site_id in companies:
            changes.note(site_id, companies[site_id], document_of(rows), stored)
            changes.summaries.append(summary_of(site_id, companies[site_id], rows))
        elif stored:
            changes.note_gone(stored)
    changes.write()


def _clear_marks(ids: list[int]) -> Statement:
    these, given = backend().one_of("site_id", ids)
    return Statement(f"DELETE FROM {SearchMark._meta.db_table} WHERE {these}", [given])


def _stored_row(site_id: int, rows: Rows) -> SearchDocument | None:
    for company, edition, tokens, past_tokens, shown, *_ in rows["stored"]:
        return SearchDocument(site_id, int(company), int(edition), tokens, past_tokens, shown)
    return None


@dataclass
class Changes:
    """The difference between what is stored and what should be."""

    trusting: bool
    added: list[tuple[int, str, int]] = field(default_factory=list)
    removed: list[tuple[int, str, int]] = field(default_factory=list)
    rows: list[SearchDocument] = field(default_factory=list)
    summaries: list[SiteSummary] = field(default_factory=list)
    gone: list[int] = field(default_factory=list)

    def note(self, site_id: int, company_id: int, document: Document, stored: SearchDocument | None) -> None:
        """A site that should have ``document``."""
        row = document_row(site_id, company_id, document)
        new = document.tokens | document.past_tokens
        old = stored_tokens(stored) if stored else set()
        if stored and stored.company_id != company_id:
            self.removed += [(stored.company_id, token, site_id) for token in old]
            old = set()
        self.added += [(company_id, token, site_id) for token in (new - old if self.trusting else new)]
        self.removed += [(company_id, token, site_id) for token in old - new]
        if stored is None or not same_document(stored, row):
            self.rows.append(row)

    def note_gone(self, stored: SearchDocument) -> None:
        """A site that is there no more."""
        self.removed += [(stored.company_id, token, stored.site_id) for token in stored_tokens(stored)]
        self.gone.append(stored.site_id)

    def write(self) -> None:
        """Bring the tables up to date."""
        statements = []
        if self.removed:
            statements.append(backend().remove_tokens(sorted(self.removed)))
        if self.added:
            statements.append(backend().add_tokens(sorted(self.added)))
        if self.rows:
            statements.append(put_rows(SearchDocument, self.rows))
        if self.gone:
            these, given = backend().one_of("site_id", self.gone)
            statements.append(Statement(f"DELETE FROM {SearchDocument._meta.db_table} WHERE {these}", [given]))
        if self.summaries:
            statements.append(put_rows(SiteSummary, self.summaries))
        learn_words(self.added, with_it=statements)


def document_row(site_id: int, company_id: int, document: Document) -> SearchDocument:
    """The row that holds ``document``."""
    return SearchDocument(
        site_id=site_id,
        company_id=company_id,
        edition=EDITION,
        tokens=_bundle(document.tokens),
        past_tokens=_bundle(document.past_tokens),
        shown=document.shown,
    )


def stored_tokens(row: SearchDocument) -> set[str]:
    """All tokens that a stored document says are in the token table."""
    return {token for column in (row.tokens, row.past_tokens) for token in column.split("\n") if token}


def learn_words(added: Iterable[tuple[int, str, int]], with_it: Sequence[Statement] = ()) -> None:
    """Bring the words of new tokens into the vocabularies that corrections are drawn from.

    ``with_it``: what is written in the same round trip.
    """
    heard = {(company_id, word) for company_id, token, _site_id in added for word in vocabulary_of((token,))}
    statements = list(with_it)
    if heard:
        statements.append(backend().add_words(sorted(heard)))
    if statements:
        fresh = {word for (word,) in backend().together(statements)}
        backend().add_variants(sorted((variant, word) for word in fresh for variant in variants_of(word)))


def _bundle(tokens: Iterable[str]) -> str:
    joined = "\n".join(sorted(tokens))
    return f"\n{joined}\n" if joined else ""


def same_document(stored: SearchDocument, row: SearchDocument) -> bool:
    """Whether two rows hold the same document, written by the same edition."""
    names = ("company_id", "edition", "tokens", "past_tokens", "shown")
    return all(getattr(stored, name) == getattr(row, name) for name in names)
