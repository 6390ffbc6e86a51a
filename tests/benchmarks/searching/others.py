"""The other sides of the comparison: what Django's admin does, and tantivy."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import tantivy
from django.contrib.admin import AdminSite, ModelAdmin
from django.db.models import Exists, OuterRef
from django.http import HttpRequest

from fleet.models import Company, SearchDocument, Site
from fleet.search.fold import pieces, skeleton

PAGE = 25
COLUMNS = (
    "code", "name", "street", "house_number", "postcode", "town", "ownerships__owner__name",
    "ownerships__owner__email", "ownerships__owner__phone", "placements__device__serial",
    "placements__device__model__name", "placements__device__model__maker__name", "references__value", "tags__name",
)  # fmt: skip


class SitesInAdmin(ModelAdmin):  # type: ignore[type-arg]  # generic for type checkers alone
    """The register as Django's admin would search it."""

    search_fields = COLUMNS
    list_per_page = PAGE


def naive(company: Company, text: str, *, counted: bool = True) -> list[int]:
    """What the admin's list does: its own search over the columns, the count above the list, and the first page."""
    sites = Site.objects.filter(company=company)
    request = HttpRequest()
    found, may_repeat = SitesInAdmin(Site, AdminSite()).get_search_results(request, sites, text)
    if may_repeat:  # as ChangeList does
        found = sites.filter(Exists(found.filter(pk=OuterRef("pk"))))
    if counted:
        found.count()
    return [site.pk for site in found.order_by("-pk")[:PAGE]]


class Tantivy:
    """A tantivy index over the same words and codes, all companies in it."""

    def __init__(self, folder: Path) -> None:
        schema = tantivy.SchemaBuilder()
        schema.add_unsigned_field("site", stored=True)
        for name in ("company", "words", "codes", "ends"):
            schema.add_text_field(name, tokenizer_name="whitespace", index_option="basic")
        self._schema = schema.build()
        folder.mkdir(parents=True, exist_ok=True)
        self._index = tantivy.Index(self._schema, path=str(folder))
        self._fill()
        self._index.reload()
        self._searcher = self._index.searcher()

    def _fill(self) -> None:
        writer = self._index.writer(heap_size=400_000_000)
        for row in SearchDocument.objects.order_by("pk").iterator(chunk_size=5000):
            tokens = row.tokens.split()
            writer.add_document(
                tantivy.Document(
                    site=row.site_id,
                    company=f"c{row.company_id}",
                    words=" ".join(token[1:] for token in tokens if token[0] == "w"),
                    codes=" ".join(token[1:] for token in tokens if token[0] == "s"),
                    ends=" ".join(token[1:] for token in tokens if token[0] == "r"),
                )
            )
        writer.commit()
        writer.wait_merging_threads()

    def query(self, company: Company, text: str, kind: str) -> Any:
        """The query for a text: every piece a word from its beginning, a code, or an ending; a typo is fuzzy."""
        must = [(tantivy.Occur.Must, tantivy.Query.term_query(self._schema, "company", f"c{company.pk}"))]
        whole = skeleton(text)
        if kind in {"e-mail", "code", "telephone", "look-alikes", "punctuated"}:
            return tantivy.Query.boolean_query([*must, (tantivy.Occur.Must, self._code(whole))])
        for piece in pieces(text):
            if kind == "typo":
                either = tantivy.Query.fuzzy_term_query(self._schema, "words", piece, 1, True)
            else:
                starts = tantivy.Query.regex_query(self._schema, "words", f"{piece}.*")
                either = tantivy.Query.boolean_query(
                    [(tantivy.Occur.Should, starts), (tantivy.Occur.Should, self._code(skeleton(piece)))]
                )
            must.append((tantivy.Occur.Must, either))
        return tantivy.Query.boolean_query(must)

    def _code(self, bones: str) -> Any:
        starts = tantivy.Query.regex_query(self._schema, "codes", f"{bones}.*")
        ends = tantivy.Query.regex_query(self._schema, "ends", f"{bones[-8:][::-1]}.*")
        return tantivy.Query.boolean_query([(tantivy.Occur.Should, starts), (tantivy.Occur.Should, ends)])

    def search(self, query: Any, limit: int = PAGE) -> list[int]:
        """The sites of the first page."""
        hits = self._searcher.search(query, limit).hits
        return [int(self._searcher.doc(address)["site"][0]) for _score, address in hits]
