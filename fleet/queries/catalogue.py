"""A company's catalogue: makers and models, and how many of each stand somewhere."""

from dataclasses import dataclass
from uuid import UUID

from django.db.models import Count, Q, QuerySet

from fleet.models import Device, DeviceModel, LinkDomain, Maker, Member, Placement, Site
from fleet.queries.visibility import sees_only_own_sites, visible_sites


def catalogue_of(member: Member) -> QuerySet[DeviceModel]:
    """Every model of the company by kind, maker and name, with ``standing`` (devices of it that stand at sites that the
    member may see) and ``sites`` (at how many).
    """
    now = Q(devices__placements__until__isnull=True)
    if sees_only_own_sites(member):
        now &= Q(devices__placements__site__in=visible_sites(member))
    standing = Count("devices__placements", filter=now, distinct=True)
    sites = Count("devices__placements__site", filter=now, distinct=True)
    return (
        DeviceModel.objects.filter(company_id=member.company_id)
        .select_related("maker")
        .prefetch_related("numbers")
        .annotate(standing=standing, sites=sites)
        .order_by("kind", "maker__name", "name")
    )


def makers_of(member: Member) -> QuerySet[Maker]:
    """Every maker of the company with its spellings and ``model_count``, by name."""
    return (
        Maker.objects.filter(company_id=member.company_id)
        .annotate(model_count=Count("models"))
        .prefetch_related("spellings")
        .order_by("name")
    )


def maker_by_id(member: Member, public_id: UUID) -> Maker | None:
    """The company's maker with this public id."""
    return makers_of(member).filter(public_id=public_id).first()


def model_by_id(member: Member, public_id: UUID) -> DeviceModel | None:
    """The company's model with this public id."""
    return models_of(member).filter(public_id=public_id).first()


def models_of(member: Member) -> QuerySet[DeviceModel]:
    """Every model of the company with all its numbers and its maker's spellings."""
    models = DeviceModel.objects.filter(company_id=member.company_id)
    return models.select_related("maker").prefetch_related("numbers", "maker__spellings")


def hints_for(site: Site) -> list[DeviceModel]:
    """Models that are planned at the site, or stand there, of which somebody said where the label is."""
    here = Q(devices__placements__site=site, devices__placements__until__isnull=True)
    planned = Q(pk__in=site.expected_devices.filter(fulfilled_by__isnull=True).values("model"))
    models = DeviceModel.objects.filter(here | planned, company_id=site.company_id).exclude(label_hint="")
    return list(models.select_related("maker").distinct().order_by("kind", "maker__name", "name")[:20])


@dataclass(frozen=True, slots=True)
class MergePreview:
    """What merging one maker into another would do."""

    moved: list[DeviceModel]
    """Models that go over as they are."""
    joined: list[tuple[DeviceModel, DeviceModel]]
    """Models that both have under one name: the one that goes, and the one that it becomes."""
    devices: int
    """Devices of the models that go over or are joined."""
    sites: int
    """Sites where such devices stand now."""


def merge_preview(maker: Maker, into: Maker) -> MergePreview:
    """What merging ``maker`` into ``into``, both of one company, would do now."""
    known = {model.name.lower(): model for model in DeviceModel.objects.filter(maker=into).select_related("maker")}
    models = list(DeviceModel.objects.filter(maker=maker).select_related("maker").order_by("name"))
    standing = Placement.objects.filter(device__model__maker=maker, until__isnull=True)
    return MergePreview(
        moved=[model for model in models if model.name.lower() not in known],
        joined=[(model, known[model.name.lower()]) for model in models if model.name.lower() in known],
        devices=Device.objects.filter(model__maker=maker).count(),
        sites=standing.values("site").distinct().count(),
    )


def link_domains_of(member: Member) -> QuerySet[LinkDomain]:
    """The domains whose links identify devices, by name."""
    return LinkDomain.objects.filter(company_id=member.company_id).order_by("domain")
