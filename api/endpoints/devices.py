"""Devices: list, read, move."""

from uuid import UUID

from django.utils.translation import gettext_lazy as _
from rest_framework.request import Request
from rest_framework.response import Response

from api.authentication import acting
from api.describe import PUBLIC_ID, describe
from api.documents.devices import (
    DeviceCard,
    DeviceChange,
    DeviceDocument,
    DevicePage,
    DeviceQuery,
    MoveOrder,
    PlacementDocument,
)
from api.documents.scans import ScanDocument, SwapOrder
from api.endpoint import Endpoint, each
from api.endpoints.scans import capture_of
from api.idempotency import answered_once
from api.paging import page_by_key
from api.reads import devices_of, placements_of
from api.targets import device_named, model_named, site_named
from fleet.models import Device, Member, Placement, Site
from fleet.operations.captures import Capture
from fleet.operations.devices import describe_unit
from fleet.operations.idempotency import Answer
from fleet.operations.placements import NotStanding, move_device, swap_device
from fleet.queries.devices import open_placement, placement_ended_by


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

    scopes = {"GET": "sites:read", "PATCH": "sites:write"}

    @describe(
        _("Read a device with where it stood"), tag="devices", operation_id="read_device",
        path=(PUBLIC_ID,), answers={200: DeviceCard}, problems=(404,),
    )  # fmt: skip
    def get(self, request: Request, public_id: UUID) -> Response:
        """The device's card."""
        device = device_named(request, public_id)
        placements = placements_of(acting(request), device)
        return Response({**DeviceDocument(device).data, "placements": each(PlacementDocument, placements)})

    @describe(
        _("Say what a device is"), tag="devices", operation_id="describe_device",
        path=(PUBLIC_ID,), request=DeviceChange, answers={200: DeviceDocument}, problems=(404, 409, 422),
    )  # fmt: skip
    def patch(self, request: Request, public_id: UUID) -> Response:
        """The device with its kind and model."""
        device, change = device_named(request, public_id), self.parsed(DeviceChange, request)
        model = device.model
        if "model" in change:
            model = model_named(request, change["model"]) if change["model"] else None
        elif "kind" in change:
            model = None  # a kind alone says that the model is not the one that was thought
        described = describe_unit(
            actor=acting(request), device=device, kind=change.get("kind", device.kind), model=model
        )
        return Response(DeviceDocument(described).data)


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


class DeviceSwaps(Endpoint):
    """Swapping one device for another, by the label of the one that comes in."""

    scopes = {"POST": "scans:write"}

    @describe(
        _("Swap a device for the one whose label was read"), tag="devices", operation_id="swap_device",
        path=(PUBLIC_ID,), request=SwapOrder, answers={200: ScanDocument, 201: ScanDocument}, problems=(404,),
        creates=True,
    )  # fmt: skip
    def post(self, request: Request, public_id: UUID) -> Response:
        """201 with what came of the label, 200 for a repeated one.

        409 ``new_device_not_linked`` changed nothing; its ``facts.answer`` is what a scan would have been answered.
        Where that asks (outcome ``confirm``), send the label again under an ``id`` of its own with ``confirmed``, and
        with ``meant_device`` where it is one of the candidates.
        """
        order = self.parsed(SwapOrder, request)
        device = device_named(request, public_id)
        old = open_placement(device) or placement_ended_by(acting(request), device, order["id"])
        if old is None:
            raise NotStanding
        capture = capture_of(order | {"site": old.site.code})
        return answered_once(request, lambda: _swapped(acting(request), old, capture))


def _swapped(actor: Member, old: Placement, capture: Capture) -> Answer:
    answer = swap_device(actor=actor, old=old, capture=capture)
    return Answer(200 if answer.repeated else 201, answer.document)


def _moved(actor: Member, device: Device, site: Site) -> Answer:
    placement = move_device(actor=actor, device=device, to_site=site)
    return Answer(201, PlacementDocument(placement).data)
