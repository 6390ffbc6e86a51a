"""The house's promises about every act: it leaves no changed object behind, and a retired site takes nothing new."""

from itertools import count
from typing import Any

import pytest
from django.db.models import Model

from fleet.models import AuditEntry, Scan, Site, Stage
from fleet.operations import audit
from fleet.operations.site_guard import SiteRetired
from tests.acts import ACTS, Scene, act_named, arguments

pytestmark = pytest.mark.django_db


class Broken(Exception):
    """The database went away in the middle of an act."""


@pytest.mark.parametrize("name", ACTS)
def test_an_act_that_breaks_off_leaves_no_trace_in_the_database_or_in_hand(name, monkeypatch):
    """It is broken off at its first audit entry, then at its second, until it goes through."""
    scene = Scene()
    row = ACTS[name]
    if row.before:
        row.before(scene)
    given = arguments(row, scene)
    before, trail = looks(given), AuditEntry.objects.count()
    for last in count(1):
        with monkeypatch.context() as patch:
            patch.setattr(audit, "current_origin", _breaking(last))
            try:
                act_named(name)(**given)
            except Broken:
                assert looks(given) == before, f"changed in hand, broken off at audit entry {last}"
                assert AuditEntry.objects.count() == trail
                continue
        break
    assert last > 1 or name.endswith("sight")  # a member who sees the site anyway opens nothing
    assert AuditEntry.objects.count() > trail or last == 1


@pytest.mark.parametrize("name", ACTS)
def test_a_retired_site_takes_nothing_new(name):
    """The objects in hand were read before somebody retired the site: the register decides, not they."""
    scene = Scene()
    row = ACTS[name]
    if row.before:
        row.before(scene)
    given = arguments(row, scene)
    Site.objects.filter(pk=scene.site.pk).update(stage=Stage.RETIRED)
    trail = AuditEntry.objects.count()
    if row.retired:
        act_named(name)(**given)
    else:
        with pytest.raises(SiteRetired):
            act_named(name)(**given)
        assert AuditEntry.objects.count() == trail
    if "site_retired" in row.retired:
        newest = Scan.objects.filter(site=scene.site).latest("pk")
        assert (newest.outcome, newest.reason, newest.placement) == ("refused", "site_retired", None)


def looks(given: dict[str, Any]) -> list[Any]:
    """Every value of the rows in hand and of what was loaded with them."""
    seen: dict[int, Any] = {}

    def look(row: Any) -> None:
        if isinstance(row, list | tuple):
            for each in row:
                look(each)
        if not isinstance(row, Model) or id(row) in seen:
            return
        values = {name: repr(value) for name, value in vars(row).items() if name != "_state"}
        seen[id(row)] = (type(row).__name__, values, sorted(row._state.fields_cache))
        look(list(row._state.fields_cache.values()))

    look(list(given.values()))
    return list(seen.values())


def _breaking(last: int) -> Any:
    calls = count(1)

    def origin() -> str:
        if next(calls) == last:
            raise Broken
        return ""

    return origin
