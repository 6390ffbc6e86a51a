"""The summary rows that lists and filters read, written together with the index."""

from __future__ import annotations

from datetime import datetime
from typing import cast

from django.db.models import CharField
from django.utils import timezone

from fleet.models import SiteSummary, Stage
from fleet.search.fold import sorting_key
from fleet.search.sources import Facts, Part, Rows, moment_of, sources

KEPT = Part(
    "kept",
    "fleet_sitesummary",
    "site_id",
    ("stage", "CAST(stage_since AS text)", "next_move", "CAST(move_since AS text)"),
)
"""What an earlier summary says of since when; read with the sources' parts where there may be one."""
LONGEST_OWNER = 60
_SINCE = ("stage_since", "move_since")
_FACTS = tuple(
    field.name
    for field in SiteSummary._meta.concrete_fields
    if field.name not in ("site", "company", *_SINCE)
)  # fmt: skip


def summary_of(site_id: int, company_id: int, rows: Rows) -> SiteSummary:
    """The summary that a site should have of which these rows were read, with KEPT where it may have one already."""
    facts = {name: fact for source in sources() for name, fact in source.facts(rows).items()}
    facts["owner_key"] = sorting_key(str(facts.get("owner_names", "")))[:LONGEST_OWNER]
    values = {name: _fitting(name, facts[name]) for name in _FACTS if name in facts}
    return SiteSummary(site_id=site_id, company_id=company_id, **values, **_since(facts, rows))


def same_summary(one: SiteSummary | None, other: SiteSummary) -> bool:
    """Whether two summaries say the same; no summary says nothing like it. Since when is not compared: rows that are
    read later know less of it.
    """
    return _values(one) == _values(other)


def _since(facts: Facts, rows: Rows) -> dict[str, datetime]:
    """Since when stage and next move hold: as long as they did where they stay, from now where they change.

    Of a site without a summary the rows say it, and so they do of a stage that is gone back to.
    """
    now = timezone.now()
    stage, move = str(facts.get("stage", "")), str(facts.get("next_move", ""))
    known = min(_moment(facts, "stage_since") or now, now)
    first = min(_moment(facts, "move_since") or known, now)
    for was, was_since, moved, moved_since, *_ in rows["kept"]:
        if was:
            undone = was in (Stage.HANDED_OVER, Stage.RETIRED) and stage != Stage.RETIRED
            changed = known if undone else now
            known = moment_of(was_since) or now if was == stage else changed
            first = moment_of(moved_since) or now if moved == move else now
    return {"stage_since": known, "move_since": first}


def _moment(facts: Facts, name: str) -> datetime | None:
    return cast("datetime | None", facts.get(name))


def _values(summary: SiteSummary | None) -> tuple[object, ...] | None:
    if summary is None:
        return None
    return (summary.company_id, *(getattr(summary, name) for name in _FACTS))


def _fitting(name: str, fact: object) -> object:
    field = SiteSummary._meta.get_field(name)
    if not isinstance(field, CharField):
        return fact
    longest, text = field.max_length or 0, str(fact)
    return text if len(text) <= longest else text[: longest - 1] + "…"
