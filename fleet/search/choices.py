"""How many sites each choice of a filter would leave: exactly among a company's sites, and among those of a text."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from django.db.models import Count, Model, QuerySet
from django.db.models.functions import Lower

from fleet.models import Assignment, DeviceModel, Kind, Maker, Member, Placement, Site, SiteSummary, Stage, Tag
from fleet.queries.visibility import running_assignments, sees_only_own_sites, visible_sites
from fleet.search.counting import count_values, is_counted_here
from fleet.search.filters import NO_FILTERS, SiteFilters
from fleet.search.narrowing import NONE, fitting_placements, narrowed, values_of
from fleet.search.query import DEEPEST, sites_of_text

MOST_CHOICES = 30
MOST_OWN_SITES = 5000
OF_DEVICES = ("kind", "maker", "model", "firmware_below")


@dataclass(frozen=True, slots=True)
class Choice:
    """One value of a filter. ``capped``: at least ``count`` sites have it."""

    value: str
    label: str
    count: int
    capped: bool
    chosen: bool


@dataclass(frozen=True, slots=True)
class _Facet:
    """A filter whose choices are counted: its values; how many sites each value leaves of those in a query, or of all;
    and (value, site) of given sites.
    """

    name: str
    values: Callable[[Member], Iterable[tuple[str, str]]]
    counts: Callable[[Member, SiteFilters, QuerySet[Site] | None], Mapping[str, int]]
    pairs: Callable[[list[int]], Iterable[tuple[str, int]]]


def count_choices(*, member: Member, text: str = "", filters: SiteFilters = NO_FILTERS) -> dict[str, list[Choice]]:
    """For each filter its choices, with the number of sites that the text and all *other* filters leave.

    Only sites that the member may see are counted; for narrowed field members so are the choices themselves.
    """
    found, more = _looked_at(member, text)
    by_summaries = count_values(member, filters) if found is None else {}
    counted: dict[str, list[Choice]] = {}
    for facet in _FACETS:
        values = list(facet.values(member))
        if found is not None:
            counts = _count_among(member, facet, [value for value, _label in values], found, filters)
        elif is_counted_here(facet.name, filters):
            counts = by_summaries[facet.name]
        else:
            counts = _count_rows(member, facet, filters)
        chosen = getattr(filters, facet.name)
        choices = [
            Choice(value, label, counts.get(value, 0), more and bool(counts.get(value)), value in chosen)
            for value, label in values
        ]
        counted[facet.name] = [choice for choice in choices if choice.count or choice.chosen]
    return counted


def _looked_at(member: Member, text: str) -> tuple[list[int] | None, bool]:
    """The sites among which to count, or None for all of the company; and whether there may be more of them."""
    if text.strip():
        found = sites_of_text(member, text)
        return found, len(found) >= DEEPEST
    if sees_only_own_sites(member):  # a bound on rows of the company would tell of sites that are hidden
        found = list(visible_sites(member).order_by("-pk").values_list("pk", flat=True)[: MOST_OWN_SITES + 1])
        return found[:MOST_OWN_SITES], len(found) > MOST_OWN_SITES
    return None, False


def _others(filters: SiteFilters, name: str) -> SiteFilters:
    return replace(filters, **{name: ()})  # type: ignore[arg-type]  # each facet is a tuple


def _count_rows(member: Member, facet: _Facet, filters: SiteFilters) -> Mapping[str, int]:
    """By the rows of the facet at the sites that the other filters leave, in one statement for all values."""
    others = _others(filters, facet.name)
    elsewhere = others
    if facet.name in OF_DEVICES:  # what is asked of devices must hold of one and the same, so the facet asks it
        elsewhere = replace(others, kind=(), maker=(), model=(), firmware_below="")
    sites = narrowed(visible_sites(member), member, elsewhere, from_rows=True) if elsewhere else None
    return facet.counts(member, others, sites)


def _count_among(
    member: Member, facet: _Facet, values: list[str], found: list[int], filters: SiteFilters
) -> Mapping[str, int]:
    """The same among given sites."""
    others = _others(filters, facet.name)
    ids = found
    if others:
        base = narrowed(visible_sites(member), member, others)
        ids = list(base.filter(pk__in=found).order_by().values_list("pk", flat=True))
    sites: dict[str, set[int]] = defaultdict(set)
    for value, site_id in facet.pairs(ids):
        sites[value].add(site_id)
    return {value: len(sites[value]) for value in values}


def _by_value(
    rows: QuerySet[Any], column: str, sites: QuerySet[Site] | None, *, distinct: bool = False
) -> Mapping[str, int]:
    if sites is not None:
        rows = rows.filter(site__in=sites.order_by().values("pk"))
    found = rows.order_by().values_list(column).annotate(number=Count("site", distinct=distinct))
    return {str(value): number for value, number in found}


def _from_summaries(_member: Member, _filters: SiteFilters, _sites: QuerySet[Site] | None) -> Mapping[str, int]:
    raise LookupError("Summaries count these.")


def _placed(column: str, member: Member, filters: SiteFilters, sites: QuerySet[Site] | None) -> Mapping[str, int]:
    placements = fitting_placements(member.company_id, filters).filter(device__company_id=member.company_id)
    return _by_value(placements, column, sites, distinct=True)


def _tagged(member: Member, _filters: SiteFilters, sites: QuerySet[Site] | None) -> Mapping[str, int]:
    through: type[Model] = Site.tags.through
    return _by_value(through._default_manager.filter(tag__company_id=member.company_id), "tag__name", sites)


def _assigned(member: Member, _filters: SiteFilters, sites: QuerySet[Site] | None) -> Mapping[str, int]:
    running = Assignment.objects.filter(running_assignments(), company_id=member.company_id)
    return _by_value(running, "member__public_id", sites)


def _site_pairs(column: str, ids: list[int]) -> Iterable[tuple[str, int]]:
    return Site.objects.filter(pk__in=ids).values_list(column, "pk")


def _summary_pairs(column: str, ids: list[int]) -> Iterable[tuple[str, int]]:
    pairs = SiteSummary.objects.filter(site__in=ids).values_list(column, "site")
    return ((value or NONE, site_id) for value, site_id in pairs)


def _missing_pairs(ids: list[int]) -> Iterable[tuple[str, int]]:
    pairs = SiteSummary.objects.filter(site__in=ids).values_list("missing_permissions", "site")
    return ((purpose, site_id) for purposes, site_id in pairs for purpose in purposes.split())


def _placed_pairs(column: str, ids: list[int]) -> Iterable[tuple[str, int]]:
    pairs = Placement.objects.filter(site__in=ids, until__isnull=True).values_list(column, "site")
    return ((str(value), site_id) for value, site_id in pairs)


def _assigned_pairs(ids: list[int]) -> Iterable[tuple[str, int]]:
    pairs = Assignment.objects.filter(running_assignments(), site__in=ids).values_list("member__public_id", "site")
    return ((str(value), site_id) for value, site_id in pairs)


def _tagged_pairs(ids: list[int]) -> Iterable[tuple[str, int]]:
    through: type[Model] = Site.tags.through
    return through._default_manager.filter(site__in=ids).values_list("tag__name", "site")


def _column_values(model: type[Model], column: str, member: Member) -> list[tuple[str, str]]:
    return [(value or NONE, value) for value in values_of(model, column, member.company_id)[:MOST_CHOICES]]


def _purposes(member: Member) -> list[tuple[str, str]]:
    combinations = values_of(SiteSummary, "missing_permissions", member.company_id)
    return [(each, each) for each in sorted({word for combination in combinations for word in combination.split()})]


def _makers(member: Member) -> list[tuple[str, str]]:
    names = Maker.objects.filter(company_id=member.company_id).order_by(Lower("name")).values_list("name", flat=True)
    return [(name, name) for name in names[:MOST_CHOICES]]


def _models(member: Member) -> list[tuple[str, str]]:
    models = DeviceModel.objects.filter(company_id=member.company_id).select_related("maker")
    models = models.order_by(Lower("maker__name"), Lower("name"))[:MOST_CHOICES]
    return [(str(model.public_id), f"{model.maker.name} {model.name}") for model in models]


def _tags(member: Member) -> list[tuple[str, str]]:
    names = Tag.objects.filter(company_id=member.company_id).order_by(Lower("name")).values_list("name", flat=True)
    return [(name, name) for name in names[:MOST_CHOICES]]


def _members(member: Member) -> list[tuple[str, str]]:
    people = Member.objects.filter(company_id=member.company_id, active=True, assignments__isnull=False).distinct()
    people = people.select_related("user").order_by("pk")[:MOST_CHOICES]
    return [(str(person.public_id), person.user.get_full_name()) for person in people]


def _of_site(column: str, values: Callable[[Member], Iterable[tuple[str, str]]]) -> _Facet:
    return _Facet(column, values, _from_summaries, partial(_site_pairs, column))


def _of_summary(name: str, column: str) -> _Facet:
    values = partial(_column_values, SiteSummary, column)
    return _Facet(name, values, _from_summaries, partial(_summary_pairs, column))


def _of_device(name: str, column: str, values: Callable[[Member], Iterable[tuple[str, str]]]) -> _Facet:
    return _Facet(name, values, partial(_placed, column), partial(_placed_pairs, column))


_FACETS = (
    _of_site("stage", lambda _member: [(str(v), str(w)) for v, w in Stage.choices]),
    _of_summary("invitation", "invitation_state"),
    _Facet("missing", _purposes, _from_summaries, _missing_pairs),
    _of_summary("next_move", "next_move"),
    _of_device("kind", "device__kind", lambda _member: [(str(v), str(w)) for v, w in Kind.choices]),
    _of_device("maker", "device__model__maker__name", _makers),
    _of_device("model", "device__model__public_id", _models),
    _of_site("region", partial(_column_values, Site, "region")),
    _Facet("assigned", _members, _assigned, _assigned_pairs),
    _Facet("tag", _tags, _tagged, _tagged_pairs),
)
