"""Devices: list, read, move."""

from uuid import UUID

from django.utils.translation import gettext_lazy as _
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import acting
from api.describe import PUBLIC_ID, describe
from api.documents.devices import (
    DeviceCard,
    DeviceDocument,
    DevicePage,
    DeviceQuery,
    MoveOrder,
    PlacementDocument,
)
from api.endpoint import Endpoint, each
from api.idempotency import answered_once
from api.paging import page_by_key
from api.reads import devices_of, placements_of
from api.targets import device_named, site_named
from fleet.models import Device, Member, Site
from fleet.operations.idempotency import Answer
from fleet.operations.placements import move_device


class Devices(Endpoint):
    """The devices that stand or stood where the member may see."""

    scopes = {"GET": "sites:read"}

    @describe(
        _("List devices"), tag="devices", operation_id="list_devices",
        query=DeviceQuery, answers={200: DevicePage}, problems=(404, 422),
    )  # fmt: skip
    def get(self, request: Request) -> Response:
        """A page of devices, newest first."""
        asked = self.asked(DeviceQuery, request)
        site = site_named(request, asked["site"]) if "site" in asked else None
        rows = devices_of(acting(request), serial=asked.get("serial", ""), kind=asked.get("kind", ""), site=site)
        page = page_by_key(rows, key="public_id", cursor=asked.get("cursor"), limit=asked["limit"])
        return Response(page.document(request, lambda device: DeviceDocument(device).data))


class OneDevice(Endpoint):
    """One device by its public id."""

    scopes = {"GET": "sites:read"}

    @describe(
        _("Read a device with where it stood"), tag="devices", operation_id="read_device",
        path=(PUBLIC_ID,), answers={200: DeviceCard}, problems=(404,),
    )  # fmt: skip
    def get(self, request: Request, public_id: UUID) -> Response:
        """The device's card."""
        device = device_named(request, public_id)
        placements = placements_of(acting(request), device)
        return Response({**DeviceDocument(device).data, "placements": each(PlacementDocument, placements)})


class DeviceMoves(Endpoint):
    """Moving one device to another site."""

    scopes = {"POST": "sites:write"}

    @describe(
        _("Move a device to another site"), tag="devices", operation_id="move_device",
        path=(PUBLIC_ID,), request=MoveOrder, answers={201: PlacementDocument}, problems=(404,), creates=True,
    )  # fmt: skip
    def post(self, request: Request, public_id: UUID) -> Response:
        """The new placement; the one before is closed."""
        order = self.parsed(MoveOrder, request)
        device, site = device_named(request, public_id), site_named(request, order["to_site"])
        return answered_once(request, lambda: _moved(acting(request), device, site))


def _moved(actor: Member, device: Device, site: Site) -> Answer:
    placement = move_device(actor=actor, device=device, to_site=site)
    return Answer(201, PlacementDocument(placement).data)
