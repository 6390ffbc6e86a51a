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

    @property
    def sql(self) -> str:
        """A SELECT of the ids, with placeholders."""
        return self._compiled(self.sites)[0]

    @property
    def params(self) -> tuple[Any, ...]:
        """The values of the placeholders."""
        return self._compiled(self.sites)[1]

    def few(self, cap: int) -> Sequence[int] | None:
        """The ids where there are fewer than ``cap``, else None."""
        ids = list(self.sites.order_by().values_list("pk", flat=True)[:cap])
        return ids if len(ids) < cap else None

    def condition(self, column: str) -> tuple[str, list[Any]]:
        """`` AND EXISTS (…)`` for the site in ``column`` of an outer statement."""
        sql, params = self._compiled(self.sites.filter(pk=RawSQL(column, ())))  # noqa: S611  # a column of our own statement
        return f" AND EXISTS ({sql})", list(params)

    @staticmethod
    def _compiled(sites: QuerySet[Site]) -> tuple[str, tuple[Any, ...]]:
        sql, params = sites.order_by().values("pk").query.sql_with_params()
        return sql, params
