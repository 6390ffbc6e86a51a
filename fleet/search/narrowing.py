"""Filters as conditions on sites, and the values that a company has for them."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import zip_longest
from typing import Any

from django.db.models import Exists, Model, OuterRef, Q, QuerySet, Subquery

from fleet.models import Assignment, DeviceModel, InstalledFirmware, Member, Placement, Site, SiteSummary
from fleet.queries.visibility import running_assignments
from fleet.search.filters import SiteFilters
from fleet.search.statements import Statement

NONE = "none"
"""Chooses sites that have no value: no invitation, no next move."""
MOST_VALUES = 200
_FEW = 2000


def narrowed(sites: QuerySet[Site], member: Member, filters: SiteFilters, *, from_rows: bool = False) -> QuerySet[Site]:
    """``sites`` without those that the filters leave out.

    ``from_rows``: where few summaries, devices, assignments or tags fit, their sites are found by these. One short
    statement for each such filter tells; worth it where all of a company's sites would be looked through instead.
    """
    conditions: list[Q | Exists] = [*_of_site(filters)]
    for rows in _fitting(member.company_id, filters):
        few = _few_sites(rows, member.company_id) if from_rows else None
        conditions.append(Exists(rows.filter(site=OuterRef("pk"))) if few is None else Q(pk__in=few))
    return sites.filter(*conditions)


def _few_sites(rows: QuerySet[Any], company_id: int) -> QuerySet[Any] | None:
    """The sites of rows, if these are few."""
    if rows.model is Placement:  # by the company's devices; asked of one site, SQLite would go through all of a model
        rows = rows.filter(device__company_id=company_id)
    sites = rows.order_by().values("site")
    return None if sites[_FEW : _FEW + 1] else sites


def _fitting(company_id: int, filters: SiteFilters) -> Iterator[QuerySet[Any]]:
    """Rows that each filter asks for, of whose sites those that have one of each are left."""
    summaries = SiteSummary.objects.filter(company_id=company_id)
    if filters.invitation:
        yield summaries.filter(invitation_state__in=or_none(filters.invitation))
    if filters.next_move:
        yield summaries.filter(next_move__in=or_none(filters.next_move))
    if filters.missing:
        yield summaries.filter(missing_permissions__in=combinations_with(company_id, filters.missing))
    if filters.kind or filters.maker or filters.model or filters.firmware_below:
        yield fitting_placements(company_id, filters)
    if filters.assigned:
        yield Assignment.objects.filter(running_assignments(), member__public_id__in=filters.assigned)
    if filters.tag:
        yield Site.tags.through.objects.filter(tag__company_id=company_id, tag__name__in=filters.tag)


def values_of(model: type[Model], column: str, company_id: int) -> list[str]:
    """The distinct values of an indexed column in a company, by jumping along the index; at most ``MOST_VALUES``."""
    table = model._meta.db_table
    leaps = Statement(
        f"WITH RECURSIVE value (it) AS (SELECT min({column}) FROM {table} WHERE company_id = %s "
        f"UNION ALL SELECT (SELECT min({column}) FROM {table} WHERE company_id = %s AND {column} > value.it) "
        f"FROM value WHERE value.it IS NOT NULL) SELECT it FROM value WHERE it IS NOT NULL LIMIT {MOST_VALUES}",
        [company_id, company_id],
    )
    return [row[0] for row in leaps.run()]


def is_below(version: str, bound: str) -> bool:
    """Whether a firmware version comes before another: numbers by size, the rest by letters."""
    for one, other in zip_longest(_parts(version), _parts(bound), fillvalue=(0, 0, "")):
        if one != other:
            return one < other
    return False


def _parts(version: str) -> list[tuple[int, int, str]]:
    found = re.findall(r"\d+|[^\W\d_]+", version.casefold())
    return [(1, int(part), "") if part.isdigit() else (-1, 0, part) for part in found]


def _of_site(filters: SiteFilters) -> list[Q]:
    conditions = []
    if filters.stage:
        conditions.append(Q(stage__in=filters.stage))
    if filters.region:
        conditions.append(Q(region__in=filters.region))
    if filters.installed_from:
        conditions.append(Q(installed_on__gte=filters.installed_from))
    if filters.installed_until:
        conditions.append(Q(installed_on__lte=filters.installed_until))
    return conditions


def combinations_with(company_id: int, purposes: tuple[str, ...]) -> list[str]:
    """The values of the column, each some purposes with spaces between, that name one of ``purposes``."""
    wanted = set(purposes)
    return [value for value in values_of(SiteSummary, "missing_permissions", company_id) if wanted & set(value.split())]


def models_made_by(company_id: int, makers: tuple[str, ...]) -> list[int]:
    """Keys of the models by these names of makers, letter case aside.

    By the keys: joined down from the maker's name, SQLite goes through all devices of the company.
    """
    names = Q()
    for name in makers:
        names |= Q(maker__name__iexact=name)
    return list(DeviceModel.objects.filter(names, company_id=company_id).values_list("pk", flat=True))


def or_none(values: tuple[str, ...], name: str = "") -> list[str]:
    """The values as they are stored; a region has no word for none."""
    return ["" if value == NONE and name != "region" else value for value in values]


def fitting_placements(company_id: int, filters: SiteFilters) -> QuerySet[Placement]:
    """Open placements of devices that the filters for kind, maker, model and firmware all leave."""
    placements = Placement.objects.filter(until__isnull=True)
    if filters.kind:
        placements = placements.filter(device__kind__in=filters.kind)
    if filters.model:
        placements = placements.filter(device__model__public_id__in=filters.model)
    if filters.maker:
        placements = placements.filter(device__model__in=models_made_by(company_id, filters.maker))
    if filters.firmware_below:
        older = [
            version
            for version in values_of(InstalledFirmware, "version", company_id)
            if is_below(version, filters.firmware_below)
        ]
        latest = InstalledFirmware.objects.filter(device=OuterRef("device")).order_by("-seen_at", "-pk")
        placements = placements.alias(runs=Subquery(latest.values("version")[:1])).filter(runs__in=older)
    return placements
