"""What index and lists read of a site. Every package names its parts, and all of them are read in one statement."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache

from django.conf import settings
from django.utils.module_loading import import_string

from fleet.search.backend import backend
from fleet.search.statements import Statement
from fleet.search.words import Word

Texts = Sequence[str]
Rows = Mapping[str, Sequence[Texts]]
"""The rows of one site by the name of their part, in no order."""
Facts = Mapping[str, str | int | datetime]
"""Values of columns of :class:`fleet.models.SiteSummary`; of ``…_since`` only what the rows know."""


@dataclass(frozen=True, slots=True)
class Part:
    """Rows that hang on sites. ``columns`` are texts and never null; ``site`` is the column with the site's id."""

    name: str
    tables: str
    site: str
    columns: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Source:
    """What one package contributes, for ``settings.SITE_SOURCES``: the parts to read, the words by which a site is
    found, and what lists show of it, both made of the rows of these parts.
    """

    parts: tuple[Part, ...]
    words: Callable[[Rows], Iterable[Word]]
    facts: Callable[[Rows], Facts]


@cache
def _named(names: tuple[str, ...]) -> tuple[Source, ...]:
    return tuple(import_string(name) for name in names)


def sources() -> tuple[Source, ...]:
    """All sources."""
    return _named(tuple(settings.SITE_SOURCES))


def read_sites(site_ids: Sequence[int], *further: Part) -> Mapping[int, Rows]:
    """The rows of all sources' parts, and of ``further`` ones, for each of these sites, also for one without rows."""
    found: dict[int, dict[str, list[Texts]]] = {site_id: defaultdict(list) for site_id in site_ids}
    if found:
        parts = (*(part for source in sources() for part in source.parts), *further)
        conditions = [backend().one_of(part.site, list(found)) for part in parts]
        sql = _union(parts).format(*(condition for condition, _given in conditions))
        for site_id, part, *texts in Statement(sql, [given for _condition, given in conditions]).run():
            found[site_id][parts[part].name].append(texts)
    return found


def moment_of(text: str) -> datetime | None:
    """The moment that a database cast to text, which is in UTC on both; None for an empty text."""
    if not text:
        return None
    moment = datetime.fromisoformat(text)
    return moment if moment.tzinfo else moment.replace(tzinfo=UTC)


@cache
def _union(parts: tuple[Part, ...]) -> str:
    """One statement for all parts, with a place for each part's condition; what a part has not is an empty text."""
    width = max(len(part.columns) for part in parts)
    selects = []
    for number, part in enumerate(parts):
        columns = [part.site, str(number), *part.columns, *["''"] * (width - len(part.columns))]
        selects.append(f"SELECT {', '.join(columns)} FROM {part.tables} WHERE {{}}")
    return " UNION ALL ".join(selects)
