"""The sites that a search may answer: what the member sees, narrowed by filters, as one more condition."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet
from django.db.models.expressions import RawSQL

from fleet.models import Site


@dataclass(frozen=True, slots=True)
class Allowed:
    """A set of sites by its query."""

    sites: QuerySet[Site]

    def few(self, cap: int) -> Sequence[int] | None:
        """The ids where there are fewer than ``cap``, else None."""
        ids = list(self.sites.order_by().values_list("pk", flat=True)[:cap])
        return ids if len(ids) < cap else None

    def condition(self, column: str) -> tuple[str, list[Any]]:
        """`` AND EXISTS (…)`` for the site in ``column`` of an outer statement."""
        matching = self.sites.filter(pk=RawSQL(column, ()))  # noqa: S611  # a column of our own statement
        sql, params = matching.order_by().values("pk").query.sql_with_params()
        return f" AND EXISTS ({sql})", list(params)
