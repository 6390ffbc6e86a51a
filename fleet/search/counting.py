"""How many sites filters leave, exactly up to a bound.

Read from one index of the summaries that holds every filter of the register's own (``summary_for_counts``), and from
the rows of the others (tags, assignments, days, firmware) where these are asked for.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from functools import reduce
from operator import or_

from django.db.models import Count, Q, QuerySet

from fleet.models import DeviceModel, Kind, Member, Site, SiteSummary
from fleet.queries.visibility import sees_only_own_sites
from fleet.search.filters import NO_FILTERS, SiteFilters
from fleet.search.narrowing import NONE, combinations_with, models_made_by, narrowed, or_none
from fleet.search.query import searched_sites

COUNTED_EXACTLY = 100_000
BY_VALUE = {"stage": "stage", "next_move": "next_move", "invitation": "invitation_state", "region": "region"}
"""Filters of which a site has one value each, with their columns of the summary."""
BY_WORD = {"missing": "missing_permissions", "kind": "kinds"}
"""Filters of which a site has several values, which stand as words in one column."""
BY_MODEL = ("maker", "model")
_COLUMNS = (*BY_VALUE.values(), *BY_WORD.values(), "model_ids")

Summaries = QuerySet[SiteSummary]


def count_sites(member: Member, filters: SiteFilters = NO_FILTERS) -> tuple[int, bool]:
    """How many visible sites the filters leave up to ``COUNTED_EXACTLY``, and whether there are more."""
    if sees_only_own_sites(member):
        return bounded(narrowed(searched_sites(member), member, filters, from_rows=True))
    own, others = _own_and_others(filters)
    summaries = _summaries(member, others).filter(_of_columns(member.company_id, own))
    if not (own.maker or own.model):
        return bounded(summaries)
    wanted = _wanted_models(member.company_id, own)
    sets = summaries.values_list("model_ids").annotate(number=Count("site")).order_by()
    total = sum(number for ids, number in sets if wanted & set(ids.split()))
    return min(total, COUNTED_EXACTLY), total > COUNTED_EXACTLY


def bounded(rows: QuerySet[Site] | Summaries) -> tuple[int, bool]:
    """How many rows there are up to ``COUNTED_EXACTLY``, and whether there are more."""
    total = rows.order_by()[: COUNTED_EXACTLY + 1].count()
    return min(total, COUNTED_EXACTLY), total > COUNTED_EXACTLY


def is_counted_here(name: str, filters: SiteFilters) -> bool:
    """Whether the choices of a filter are counted from the summaries, beside these filters."""
    return name in _one_by_one(filters, name)


def count_values(member: Member, filters: SiteFilters) -> dict[str, Counter[str]]:
    """For each filter of the register's own, how many sites of the company each of its values leaves beside the other
    filters.
    """
    own, others = _own_and_others(filters)
    tally = Tally(member.company_id, own)
    groups = _summaries(member, others).values_list(*_COLUMNS).annotate(number=Count("site")).order_by()
    for *columns, number in groups:
        tally.add(dict(zip(_COLUMNS, columns, strict=True)), number)
    return tally.counted


@dataclass(frozen=True, slots=True)
class _Facet:
    """A filter: the values that a group of sites has, and whether a chosen one is among them."""

    name: str
    values: Callable[[Mapping[str, str]], Iterable[str]]
    chosen: frozenset[str]

    def passes(self, values: Iterable[str]) -> bool:
        return not self.chosen or not self.chosen.isdisjoint(values)


class Tally:
    """Counts groups of sites that are alike by the values of each filter."""

    def __init__(self, company_id: int, filters: SiteFilters) -> None:
        self._models = _models(company_id)
        self.counted: dict[str, Counter[str]] = {}
        self._facets = [
            *(_Facet(name, _value_in(column), _chosen(filters, name)) for name, column in BY_VALUE.items()),
            *(_Facet(name, _words_in(column), _chosen(filters, name)) for name, column in BY_WORD.items()),
        ]
        self._wanted = _wanted_models(company_id, replace(filters, model=()))
        self._chosen = _wanted_models(company_id, replace(filters, maker=()))
        self._filters = filters
        for facet in self._facets:
            self.counted[facet.name] = Counter()
        for name in BY_MODEL:
            self.counted[name] = Counter()

    def add(self, columns: Mapping[str, str], number: int) -> None:
        """A group of so many sites."""
        values = [list(facet.values(columns)) for facet in self._facets]
        failed = [place for place, facet in enumerate(self._facets) if not facet.passes(values[place])]
        standing = set(columns["model_ids"].split())
        fits_models = self._fits(standing)
        for place, facet in enumerate(self._facets):
            if fits_models and failed in ([], [place]):
                for value in values[place]:
                    self.counted[facet.name][value] += number
        if not failed:
            self._add_models(standing, number)

    def _fits(self, standing: set[str]) -> bool:
        chosen, wanted = self._chosen if self._filters.model else None, self._wanted if self._filters.maker else None
        both = [each for each in (chosen, wanted) if each is not None]
        return not both or not standing.isdisjoint(frozenset.intersection(*both))

    def _add_models(self, standing: set[str], number: int) -> None:
        known = {key: self._models[key] for key in standing if key in self._models}
        for key, (public_id, _maker) in known.items():
            if not self._filters.maker or key in self._wanted:
                self.counted["model"][public_id] += number
        makers = {maker for key, (_id, maker) in known.items() if not self._filters.model or key in self._chosen}
        for maker in makers:
            self.counted["maker"][maker] += number


def _one_by_one(filters: SiteFilters, beside: str = "") -> set[str]:
    """The filters that summaries answer: those of devices only where no two must hold of one and the same device."""
    of_devices = {name for name in ("kind", *BY_MODEL, "firmware_below") if getattr(filters, name)} | {beside}
    together = "firmware_below" in of_devices or ("kind" in of_devices and not of_devices.isdisjoint(BY_MODEL))
    return {*BY_VALUE, "missing", *(() if together else ("kind", *BY_MODEL))}


def _own_and_others(filters: SiteFilters) -> tuple[SiteFilters, SiteFilters]:
    own = _one_by_one(filters)
    empty = {entry.name: entry.default for entry in fields(SiteFilters)}
    return (
        replace(filters, **{name: value for name, value in empty.items() if name not in own}),  # type: ignore[arg-type]
        replace(filters, **{name: value for name, value in empty.items() if name in own}),  # type: ignore[arg-type]
    )


def _summaries(member: Member, others: SiteFilters) -> Summaries:
    summaries = SiteSummary.objects.filter(company_id=member.company_id)
    if not others:
        return summaries
    sites = Site.objects.filter(company_id=member.company_id)
    return summaries.filter(site__in=narrowed(sites, member, others, from_rows=True).values("pk"))


def _of_columns(company_id: int, filters: SiteFilters) -> Q:
    condition = Q()
    for name, column in BY_VALUE.items():
        if getattr(filters, name):
            condition &= Q(**{f"{column}__in": or_none(getattr(filters, name), name)})
    if filters.missing:
        condition &= Q(missing_permissions__in=combinations_with(company_id, filters.missing))
    if filters.kind:
        # No kind's word stands within another's.
        words = [Q(kinds__contains=kind) for kind in filters.kind if kind in Kind.values]
        condition &= reduce(or_, words, Q(pk__in=[]))
    return condition


def _chosen(filters: SiteFilters, name: str) -> frozenset[str]:
    return frozenset(getattr(filters, name))


def _value_in(column: str) -> Callable[[Mapping[str, str]], Iterable[str]]:
    """A site without a value is chosen by NONE, but for the region."""
    absent = [] if column == "region" else [NONE]
    return lambda columns: [columns[column]] if columns[column] else absent


def _words_in(column: str) -> Callable[[Mapping[str, str]], Iterable[str]]:
    return lambda columns: columns[column].split()


def _models(company_id: int) -> dict[str, tuple[str, str]]:
    models = DeviceModel.objects.filter(company_id=company_id).values_list("pk", "public_id", "maker__name")
    return {str(key): (str(public_id), maker) for key, public_id, maker in models}


def _wanted_models(company_id: int, filters: SiteFilters) -> frozenset[str]:
    """The keys of the models that the filters for makers and models both leave."""
    wanted = DeviceModel.objects.filter(company_id=company_id)
    if filters.model:
        wanted = wanted.filter(public_id__in=filters.model)
    if filters.maker:
        wanted = wanted.filter(pk__in=models_made_by(company_id, filters.maker))
    return frozenset(map(str, wanted.values_list("pk", flat=True)))
