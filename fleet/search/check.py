"""Whether index and tables agree."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fleet.models import SearchDocument, Site, SiteSummary
from fleet.search.document import document_of
from fleet.search.rebuild import stray_tokens
from fleet.search.reindex import document_row, same_document, stored_tokens
from fleet.search.sources import read_sites
from fleet.search.statements import Statement
from fleet.search.summary import same_summary, summary_of
from fleet.search.tables import TOKENS

CHUNK = 500


@dataclass(frozen=True, slots=True)
class Difference:
    """One disagreement. ``what`` is ``document``, ``summary``, ``tokens`` (missing), ``stray`` or ``gone``."""

    site_id: int
    what: str


def differences() -> list[Difference]:
    """Every disagreement between the index and what it should be, by site; reads the whole index."""
    found = {*_wrong_documents(), *_strays(), *_missing_tokens(), *_gone()}
    return sorted(found, key=lambda difference: (difference.site_id, difference.what))


def _wrong_documents() -> Iterator[Difference]:
    after = 0
    while companies := dict(Site.objects.filter(pk__gt=after).order_by("pk").values_list("pk", "company_id")[:CHUNK]):
        rows = read_sites(list(companies))
        documents = SearchDocument.objects.in_bulk(list(companies))
        kept = SiteSummary.objects.in_bulk(list(companies))
        for site_id, company_id in companies.items():
            row = document_row(site_id, company_id, document_of(rows[site_id]))
            if site_id not in documents or not same_document(documents[site_id], row):
                yield Difference(site_id, "document")
            if not same_summary(kept.get(site_id), summary_of(site_id, company_id, rows[site_id])):
                yield Difference(site_id, "summary")
        after = max(companies)


def _strays() -> Iterator[Difference]:
    return (Difference(site_id, "stray") for part in stray_tokens() for _company_id, _token, site_id in part)


def _missing_tokens() -> Iterator[Difference]:
    """Sites with fewer token rows than tokens; without strays, equal numbers are equal sets."""
    counts = dict(Statement(f"SELECT site_id, count(*) FROM {TOKENS} GROUP BY site_id", []).run())
    for document in SearchDocument.objects.only("tokens", "past_tokens").iterator(chunk_size=CHUNK):
        if counts.get(document.site_id, 0) < len(stored_tokens(document)):
            yield Difference(document.site_id, "tokens")


def _gone() -> Iterator[Difference]:
    standing = Site.objects.values("pk")
    gone = SearchDocument.objects.exclude(pk__in=standing).values_list("pk", flat=True)
    return (Difference(site_id, "gone") for site_id in gone.iterator())
