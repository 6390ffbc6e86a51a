"""How many sites each choice of a filter would leave, counted up to a cap."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import partial

from django.db.models import Model, QuerySet
from django.db.models.functions import Lower

from fleet.models import Assignment, DeviceModel, Kind, Maker, Member, Placement, Site, SiteSummary, Stage, Tag
from fleet.queries.visibility import running_assignments, sees_only_own_sites, visible_sites
from fleet.search.filters import NO_FILTERS, SiteFilters
from fleet.search.narrowing import NONE, combinations_with, models_made_by, narrowed, values_of
from fleet.search.query import DEEPEST, sites_of_text

LOOKED_AT = 1200
"""Rows that are looked at for one choice; where there are more, the count is a lower bound."""
MOST_CHOICES = 30
MOST_OWN_SITES = 5000


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
    """A filter whose choices are counted: its values, the ids of the sites that have one of them, and (value, site) of
    given sites.
    """

    name: str
    values: Callable[[Member], Iterable[tuple[str, str]]]
    sites: Callable[[Member, str], QuerySet[Model, int]]
    pairs: Callable[[list[int]], Iterable[tuple[str, int]]]


def count_choices(*, member: Member, text: str = "", filters: SiteFilters = NO_FILTERS) -> dict[str, list[Choice]]:
    """For each filter its choices, with the number of sites that the text and all *other* filters leave.

    Only sites that the member may see are counted; for narrowed field members so are the choices themselves.
    """
    found = _looked_at(member, text)
    counted: dict[str, list[Choice]] = {}
    for facet in _FACETS:
        others = replace(filters, **{facet.name: ()})  # type: ignore[arg-type]  # each facet is a tuple
        base = narrowed(visible_sites(member), member, others) if others else None
        chosen = getattr(filters, facet.name)
        values = list(facet.values(member))
        if found is None:
            counts = [_count(facet.sites(member, value), base) for value, _label in values]
        else:
            counts = _count_among(facet, [value for value, _label in values], found, base)
        choices = [
            Choice(value, label, count, capped, value in chosen)
            for (value, label), (count, capped) in zip(values, counts, strict=True)
        ]
        counted[facet.name] = [choice for choice in choices if choice.count or choice.chosen]
    return counted


def _looked_at(member: Member, text: str) -> list[int] | None:
    """The sites among which to count, or None for all of the company."""
    if text.strip():
        return sites_of_text(member, text)
    if sees_only_own_sites(member):  # a bound on rows of the company would tell of sites that are hidden
        return list(visible_sites(member).order_by("-pk").values_list("pk", flat=True)[:MOST_OWN_SITES])
    return None


def _count(ids: QuerySet[Model, int], base: QuerySet[Site] | None) -> tuple[int, bool]:
    """How many of the first sites with a value ``base`` leaves, and whether there are more than were looked at."""
    rows = list(ids[: LOOKED_AT + 1])
    looked_at = set(rows[:LOOKED_AT])
    if base is not None:
        looked_at = set(base.filter(pk__in=looked_at).order_by().values_list("pk", flat=True))
    return len(looked_at), len(rows) > LOOKED_AT


def _count_among(
    facet: _Facet, values: list[str], found: list[int], base: QuerySet[Site] | None
) -> list[tuple[int, bool]]:
    """The same among the sites of a text, in one statement for all values."""
    ids = found
    if base is not None:
        ids = list(base.filter(pk__in=found).order_by().values_list("pk", flat=True))
    sites: dict[str, set[int]] = defaultdict(set)
    for value, site_id in facet.pairs(ids):
        sites[value].add(site_id)
    return [(len(sites[value]), len(found) >= DEEPEST and bool(sites[value])) for value in values]


def _site_column(column: str, member: Member, value: str) -> QuerySet[Site, int]:
    return Site.objects.filter(company_id=member.company_id, **{column: value}).values_list("pk", flat=True)


def _summary_column(column: str, member: Member, value: str) -> QuerySet[SiteSummary, int]:
    stored = "" if value == NONE else value
    return SiteSummary.objects.filter(company_id=member.company_id, **{column: stored}).values_list("site", flat=True)


def _missing(member: Member, value: str) -> QuerySet[SiteSummary, int]:
    fitting = combinations_with(member.company_id, (value,))
    return SiteSummary.objects.filter(company_id=member.company_id, missing_permissions__in=fitting).values_list(
        "site", flat=True
    )


def _placed(condition: str, member: Member, value: object) -> QuerySet[Placement, int]:
    return Placement.objects.filter(
        device__company_id=member.company_id, until__isnull=True, **{condition: value}
    ).values_list("site", flat=True)


def _made_by(member: Member, value: str) -> QuerySet[Placement, int]:
    return _placed("device__model__in", member, models_made_by(member.company_id, (value,)))


def _tagged(member: Member, value: str) -> QuerySet[Model, int]:
    through: type[Model] = Site.tags.through
    return through._default_manager.filter(tag__company_id=member.company_id, tag__name=value).values_list(
        "site", flat=True
    )


def _assigned(member: Member, value: str) -> QuerySet[Assignment, int]:
    return (
        Assignment.objects.filter(running_assignments(), company_id=member.company_id)
        .filter(member__public_id=value)
        .values_list("site", flat=True)
    )


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
    return _Facet(column, values, partial(_site_column, column), partial(_site_pairs, column))


def _of_summary(name: str, column: str) -> _Facet:
    values = partial(_column_values, SiteSummary, column)
    return _Facet(name, values, partial(_summary_column, column), partial(_summary_pairs, column))


def _of_device(name: str, column: str, values: Callable[[Member], Iterable[tuple[str, str]]]) -> _Facet:
    return _Facet(name, values, partial(_placed, column), partial(_placed_pairs, column))


_FACETS = (
    _of_site("stage", lambda _member: [(str(v), str(w)) for v, w in Stage.choices]),
    _of_summary("invitation", "invitation_state"),
    _Facet("missing", _purposes, _missing, _missing_pairs),
    _of_summary("next_move", "next_move"),
    _of_device("kind", "device__kind", lambda _member: [(str(v), str(w)) for v, w in Kind.choices]),
    _Facet("maker", _makers, _made_by, partial(_placed_pairs, "device__model__maker__name")),
    _of_device("model", "device__model__public_id", _models),
    _of_site("region", partial(_column_values, Site, "region")),
    _Facet("assigned", _members, _assigned, _assigned_pairs),
    _Facet("tag", _tags, _tagged, _tagged_pairs),
)
