"""Sites to be found, made straight in the tables and indexed."""

import os
from datetime import UTC, datetime
from itertools import count
from random import Random
from typing import Any

import pytest
from django.db import connection

from fleet.labels.sitecode import new_site_code
from fleet.models import Company, Device, DeviceModel, Kind, Maker, Member, Placement, Site, Tag
from fleet.search import SiteResults, find_sites, reindex
from fleet.search.statements import Statement
from onboarding.models import Owner, Ownership

LONG_AGO = datetime(2021, 3, 4, 9, 0, tzinfo=UTC)
SINCE = datetime(2024, 5, 6, 9, 0, tzinfo=UTC)
counts_steps = pytest.mark.skipif(os.environ.get("TEST_DATABASE") == "postgresql", reason="counts SQLite's steps")
_codes = Random(20260601)
_numbers = count(1)


def site_at(company: Company, street: str = "Rua da Alfazema", **facts: Any) -> Site:
    """A site, not yet indexed."""
    facts = {"house_number": "5", "town": "Tavira", "time_zone": "Europe/Lisbon"} | facts
    return Site.objects.create(company=company, code=new_site_code(_codes), street=street, **facts)


def owned(site: Site, name: str = "Inês Amoreira", *, until: datetime | None = None, **facts: Any) -> Owner:
    """An owner of a site."""
    owner = Owner.objects.create(company=site.company, name=name, **facts)
    Ownership.objects.create(company=site.company, site=site, owner=owner, since=LONG_AGO, until=until)
    return owner


def placed(site: Site, serial: str, *, model: DeviceModel | None = None, until: datetime | None = None) -> Device:
    """A device standing at a site, or one that left it."""
    device, _made = Device.objects.get_or_create(
        company=site.company, serial=serial, defaults={"model": model, "kind": model.kind if model else Kind.OTHER}
    )
    ended = "moved" if until else ""
    Placement.objects.create(company=site.company, site=site, device=device, since=LONG_AGO, until=until, ended=ended)
    return device


def model_of(company: Company, maker: str, name: str, kind: str = Kind.INVERTER) -> DeviceModel:
    """A model of a maker."""
    made_by, _made = Maker.objects.get_or_create(company=company, name=maker)
    return DeviceModel.objects.create(company=company, maker=made_by, name=name, kind=kind)


def tagged(site: Site, *names: str) -> None:
    """Tags on a site."""
    for name in names:
        tag, _made = Tag.objects.get_or_create(company=site.company, name=name)
        site.tags.add(tag)


def indexed(*sites: Site) -> None:
    """Bring these sites into the index."""
    reindex([site.pk for site in sites])


def found(member: Member, text: str, **more: Any) -> list[int]:
    """The ids of the sites that a text finds, best first."""
    return [row.site_id for row in looked_for(member, text, **more).rows]


def looked_for(member: Member, text: str, **more: Any) -> SiteResults:
    """The whole answer."""
    return find_sites(member=member, text=text, **more)


def steps_of(statement: Statement) -> int:
    """How many steps SQLite takes for a statement."""
    steps = count()
    connection.connection.set_progress_handler(lambda: next(steps) < 0, 1)
    try:
        statement.run()
    finally:
        connection.connection.set_progress_handler(None, 1)
    return next(steps)
