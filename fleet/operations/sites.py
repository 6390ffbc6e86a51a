"""Registering and editing sites."""

from dataclasses import dataclass, fields, replace
from datetime import date
from decimal import Decimal
from random import SystemRandom
from typing import Any

from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.labels.sitecode import new_site_code
from fleet.models import Assignment, Member, Site, SiteCodeAlias, Tag
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import BadInput, Conflicting
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.site_guard import SiteRetired as SiteRetired
from fleet.operations.site_guard import UnknownSite as UnknownSite
from fleet.operations.site_guard import require_at
from fleet.search import reindex
from fleet.zones import zone_of


class BadSiteFacts(BadInput):
    """Some facts cannot be used; ``facts["errors"]`` maps fields to messages."""

    code = "bad_site_facts"


class StaleSite(Conflicting):
    """Somebody else saved the site meanwhile."""

    code = "stale_site"
    sentence = _("Somebody else saved this site meanwhile. Your text is kept in the form; compare it and save again.")


@dataclass(frozen=True, kw_only=True)
class SiteFacts:
    """What people say about a site. Degrees north and east; kW, kWh and kWp."""

    street: str
    town: str
    house_number: str = ""
    postcode: str = ""
    region: str = ""
    country: str = "PT"
    name: str = ""
    latitude: Decimal | None = None
    longitude: Decimal | None = None
    use: str = "home"
    installed_kwp: Decimal | None = None
    storage_kwh: Decimal | None = None
    inverter_ac_kw: Decimal | None = None
    phases: int | None = None
    export_limit_kw: Decimal | None = None
    grid_rule: str = ""
    installed_on: date | None = None
    note: str = ""


FACT_NAMES = tuple(field.name for field in fields(SiteFacts))


def facts_of(site: Site, **changes: Any) -> SiteFacts:
    """The facts as the register holds them, with ``changes`` put over them."""
    return replace(SiteFacts(**{name: getattr(site, name) for name in FACT_NAMES}), **changes)


@unchanged_if_refused
def register_site(*, actor: Member, facts: SiteFacts) -> Site:
    """A new planned site with a fresh code. A field member who registers it is assigned to it.

    Raises BadSiteFacts, NotAllowed.
    """
    require(actor, Act.EDIT_SITE)
    site = Site(company=actor.company, time_zone=_zone(actor, facts), **_as_columns(facts))
    _clean(site)
    with transaction.atomic():
        _save_with_fresh_code(site)
        if actor.is_field:
            Assignment.objects.create(company=actor.company, member=actor, site=site)
        record_act(act="register_site", company=actor.company, about=site, actor=actor, site=site, after=_shown(site))
        reindex([site.pk])
    return site


@unchanged_if_refused
@transaction.atomic
def edit_site(*, actor: Member, site: Site, facts: SiteFacts, version: int) -> Site:
    """Save changed facts if nobody saved since ``version`` was read.

    Raises UnknownSite, BadSiteFacts, StaleSite, SiteRetired, NotAllowed.
    """
    require_at(actor, Act.EDIT_SITE, site)
    before = _shown(site)
    changed = Site(
        pk=site.pk,
        code=site.code,
        company=site.company,
        stage=site.stage,
        time_zone=_zone(actor, facts),
        **_as_columns(facts),
    )
    _clean(changed)
    columns = _as_columns(facts) | {"time_zone": changed.time_zone}
    won = Site.objects.filter(pk=site.pk, version=version).update(
        version=F("version") + 1, updated_at=timezone.now(), **columns
    )
    if not won:
        raise StaleSite
    site.refresh_from_db()
    was, became = _difference(before, _shown(site))
    record_act(act="edit_site", company=actor.company, about=site, actor=actor, site=site, before=was, after=became)
    reindex([site.pk])
    return site


@unchanged_if_refused
@transaction.atomic
def tag_site(*, actor: Member, site: Site, names: list[str]) -> None:
    """The site carries exactly these tags of the company; unknown ones are made.

    Raises UnknownSite, SiteRetired, BadSiteFacts, NotAllowed.
    """
    require_at(actor, Act.EDIT_SITE, site)
    wanted = {name.strip().lower(): name.strip() for name in names if name.strip()}
    if any(len(name) > 40 for name in wanted) or len(wanted) > 20:
        raise BadSiteFacts(_("At most 20 tags of 40 characters each. The tags were left as they were."), field="tags")
    known = {tag.name.lower(): tag for tag in Tag.objects.filter(company=actor.company)}
    tags = [
        known.get(key) or Tag.objects.get_or_create(company=actor.company, name=name)[0] for key, name in wanted.items()
    ]
    before = sorted(site.tags.values_list("name", flat=True))
    site.tags.set(tags)
    record_act(
        act="tag_site", company=actor.company, about=site, actor=actor, site=site,
        before={"tags": before}, after={"tags": sorted(tag.name for tag in tags)},
    )  # fmt: skip
    reindex([site.pk])


def _as_columns(facts: SiteFacts) -> dict[str, Any]:
    return {name: value.strip() if isinstance(value := getattr(facts, name), str) else value for name in FACT_NAMES}


def _zone(actor: Member, facts: SiteFacts) -> str:
    found = None
    if (
        facts.latitude is not None
        and facts.longitude is not None
        and abs(facts.latitude) <= 90
        and abs(facts.longitude) <= 180
    ):
        found = zone_of(facts.latitude, facts.longitude)
    return found or actor.company.policy.default_time_zone


def _clean(site: Site) -> None:
    try:
        site.full_clean(exclude=["code", "company", "version"], validate_unique=False)
    except ValidationError as error:
        raise BadSiteFacts(errors=error.message_dict) from error


def _save_with_fresh_code(site: Site) -> None:
    for _attempt in range(8):
        site.code = new_site_code(SystemRandom())
        if SiteCodeAlias.objects.filter(code=site.code).exists():
            continue
        try:
            with transaction.atomic():
                site.save(force_insert=True)
        except IntegrityError:
            if not Site.objects.filter(code=site.code).exists():
                raise
        else:
            return
    raise RuntimeError("No free site code in eight draws; the random source is broken.")


def _shown(site: Site) -> dict[str, Any]:
    return {name: _plain(getattr(site, name)) for name in (*FACT_NAMES, "time_zone", "stage")}


def _plain(value: Any) -> Any:
    return value if value is None or isinstance(value, str | int | bool) else str(value)


def _difference(before: dict[str, Any], after: dict[str, Any]) -> tuple[dict[str, Any], dict[str, Any]]:
    names = [name for name in after if before.get(name) != after[name]]
    return {name: before.get(name) for name in names}, {name: after[name] for name in names}
