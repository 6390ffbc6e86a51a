"""Mending: sites whose rows changed by a path that did not index them."""

from __future__ import annotations

from fleet.models import SearchMark
from fleet.search.reindex import reindex

BATCH = 500


def sweep_marks(most: int = 20 * BATCH) -> int:
    """Index marked sites, at most ``most`` of them; answers how many."""
    done = 0
    while done < most:
        marked = list(SearchMark.objects.order_by("site_id").values_list("site_id", flat=True).distinct()[:BATCH])
        if not marked:
            break
        reindex(marked)
        done += len(marked)
    return done
