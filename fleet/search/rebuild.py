"""Writing the whole index anew while the house goes on working; a rebuild that was cut off is taken up again."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from django.utils import timezone

from fleet.models import SearchDocument, SearchRebuild, Site
from fleet.search.backend import backend
from fleet.search.reindex import reindex
from fleet.search.statements import Statement
from fleet.search.tables import TOKENS
from fleet.search.tokens import EDITION

CHUNK = 500


def rebuild(
    *, afresh: bool = False, chunk: int = CHUNK, most_chunks: int | None = None,
    tell: Callable[[SearchRebuild], None] = lambda progress: None,
) -> SearchRebuild:  # fmt: skip
    """Index every site again, chunk by chunk, each in its own transaction; searches go on meanwhile.

    Goes on where an unfinished rebuild of this edition stopped, unless ``afresh``. ``tell`` hears of each chunk.
    """
    if afresh:
        SearchRebuild.objects.filter(finished_at__isnull=True).delete()
    progress = _unfinished() or SearchRebuild.objects.create(edition=EDITION)
    chunks = 0
    while most_chunks is None or chunks < most_chunks:
        ids = list(Site.objects.filter(pk__gt=progress.done_up_to).order_by("pk").values_list("pk", flat=True)[:chunk])
        if not ids:
            reindex(_gone())
            remove_strays()
            progress.finished_at = timezone.now()
            progress.save()
            tell(progress)
            break
        reindex(ids, trusting=False)
        progress.done_up_to, progress.sites_done = ids[-1], progress.sites_done + len(ids)
        progress.save()
        tell(progress)
        chunks += 1
    return progress


def remove_strays() -> int:
    """Remove token rows that no document speaks of; answers how many."""
    strays = [stray for part in stray_tokens() for stray in part]
    for start in range(0, len(strays), CHUNK):
        backend().remove_tokens(strays[start : start + CHUNK]).run()
    return len(strays)


def stray_tokens(batch: int = 20_000) -> Iterator[list[tuple[int, str, int]]]:
    """The (company, token, site) rows that no document speaks of, looked for in batches along the key."""
    after: tuple[int, str, int] | None = (-1, "", -1)
    while after is not None:
        rows, strays = _batch(after, batch)
        yield strays
        after = rows[-1] if len(rows) == batch else None


def _batch(after: tuple[int, str, int], batch: int) -> tuple[list[tuple[int, str, int]], list[tuple[int, str, int]]]:
    holds = " OR ".join(backend().contains_token(column, "t.token") for column in ("d.tokens", "d.past_tokens"))
    found = Statement(
        f"SELECT t.company_id, t.token, t.site_id, CASE WHEN d.company_id = t.company_id AND ({holds}) THEN 0 "
        f"ELSE 1 END FROM (SELECT company_id, token, site_id FROM {TOKENS} "
        "WHERE (company_id, token, site_id) > (%s, %s, %s) "
        f"ORDER BY company_id, token, site_id LIMIT {int(batch)}) AS t "
        "LEFT JOIN fleet_searchdocument AS d ON d.site_id = t.site_id ORDER BY 1, 2, 3",
        after,
    ).run()
    rows = [(company_id, token, site_id) for company_id, token, site_id, _stray in found]
    return rows, [row[:3] for row in found if row[3]]


def _unfinished() -> SearchRebuild | None:
    return SearchRebuild.objects.filter(edition=EDITION, finished_at__isnull=True).order_by("-pk").first()


def _gone() -> list[int]:
    standing = Site.objects.values("pk")
    return list(SearchDocument.objects.exclude(pk__in=standing).values_list("pk", flat=True))
