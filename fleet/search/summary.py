"""The summary rows that lists and filters read, written together with the index."""

from __future__ import annotations

from typing import cast

from django.db.models import CharField

from fleet.models import SiteSummary
from fleet.search.sources import Rows, sources

_TEXTS = ("owner_names", "invitation_state", "missing_permissions", "next_move")
_FACTS = ("device_count", *_TEXTS)


def summary_of(site_id: int, company_id: int, rows: Rows) -> SiteSummary:
    """The summary that a site should have of which these rows were read."""
    facts = {name: fact for source in sources() for name, fact in source.facts(rows).items()}
    texts = {name: _cut(name, str(facts.get(name, ""))) for name in _TEXTS}
    return SiteSummary(site_id=site_id, company_id=company_id, device_count=int(facts.get("device_count", 0)), **texts)


def same_summary(one: SiteSummary | None, other: SiteSummary) -> bool:
    """Whether two summaries say the same; no summary says nothing like it."""
    return _values(one) == _values(other)


def _values(summary: SiteSummary | None) -> tuple[object, ...] | None:
    if summary is None:
        return None
    return (summary.company_id, *(getattr(summary, name) for name in _FACTS))


def _cut(name: str, text: str) -> str:
    longest = cast("CharField[str, str]", SiteSummary._meta.get_field(name)).max_length or 0
    return text if len(text) <= longest else text[: longest - 1] + "…"
