"""The one row that an address names, among those that the acting member may see."""

from uuid import UUID

from django.http import Http404
from rest_framework.request import Request

from api.authentication import acting
from fleet.models import Device, DeviceModel, Maker, Site
from fleet.operations.site_guard import UnknownSite
from fleet.queries.catalogue import maker_by_id, model_by_id
from fleet.queries.sites import site_by_code
from fleet.queries.visibility import visible_devices, visible_sites
from onboarding.models import Invitation, Owner


def site_named(request: Request, code: str) -> Site:
    """The visible site with this code; raises UnknownSite."""
    site = site_by_code(acting(request), code)
    if site is None:
        raise UnknownSite
    return site


def device_named(request: Request, public_id: UUID) -> Device:
    """The visible device with this id; raises Http404."""
    device = visible_devices(acting(request)).select_related("model__maker").filter(public_id=public_id).first()
    if device is None:
        raise Http404
    return device


def model_named(request: Request, public_id: UUID) -> DeviceModel:
    """The model of the company's catalogue with this id; raises Http404."""
    model = model_by_id(acting(request), public_id)
    if model is None:
        raise Http404
    return model


def maker_named(request: Request, public_id: UUID) -> Maker:
    """The maker of the company's catalogue with this id; raises Http404."""
    maker = maker_by_id(acting(request), public_id)
    if maker is None:
        raise Http404
    return maker


def owner_at(site: Site, public_id: UUID) -> Owner:
    """The owner with this id who owns ``site`` now; raises Http404."""
    owner = Owner.objects.filter(public_id=public_id, ownerships__site=site, ownerships__until__isnull=True).first()
    if owner is None:
        raise Http404
    return owner


def invitation_named(request: Request, public_id: UUID) -> Invitation:
    """The invitation with this id at a visible site; raises Http404."""
    found = (
        Invitation.objects.filter(public_id=public_id, site__in=visible_sites(acting(request)))
        .select_related("site", "owner")
        .first()
    )
    if found is None:
        raise Http404
    return found
