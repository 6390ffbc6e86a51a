"""The API's operations by role. A signed-in person without a membership gets 403 for any address, known or not."""

from typing import Any
from uuid import UUID

from fleet.models import Maker
from tests.access_table import Row, anybody
from tests.world import World

NO_MEMBER = {"owner": 403, "other_owner": 403, "outsider": 403, "anonymous": 401}
LABEL = "010952012345678821SN000001"


def _of_company(status: int = 200, **more: Any) -> Row:
    """Every company's staff do it for their own company."""
    roles = dict.fromkeys(("administrator", "office", "field", "unassigned", "foreign"), status)
    return Row(**(roles | NO_MEMBER | {"json": True} | more))


def _of_object(status: int = 200, **more: Any) -> Row:
    """Our staff who may see the object; nobody else knows of it."""
    roles = dict.fromkeys(("administrator", "office", "field"), status) | {"unassigned": 404, "foreign": 404}
    return Row(**(roles | NO_MEMBER | {"json": True} | more))


ADMINISTRATORS = {"office": 403, "field": 403, "unassigned": 403}


def _site(world: World) -> dict[str, Any]:
    return {"code": world.site.code}


def _device(world: World) -> dict[str, Any]:
    return {"public_id": world.device.public_id}


def _invitation(world: World) -> dict[str, Any]:
    return {"public_id": world.invitation.public_id}


def _consent(world: World) -> dict[str, Any]:
    return {"owner": str(world.owner.public_id), "purpose": "contact", "state": "given", "how": "staff_statement"}


def _invited(world: World) -> dict[str, Any]:
    return {"owner": str(world.owner.public_id)}


def _nowhere(_world: World) -> dict[str, Any]:
    return {"rest": "v1/nothing"}


def _new_site(_world: World) -> dict[str, Any]:
    return {"street": "Rua do Sol", "town": "Tavira"}


def _changed_site(world: World) -> dict[str, Any]:
    return {"version": world.site.version, "note": "Key at the neighbour's."}


def _changed_plan(_world: World) -> dict[str, Any]:
    return {"counts": {"optimiser": 0, "inverter": 2}, "take_off": "PLANNED-0"}


def _unit(world: World) -> dict[str, Any]:
    return {"model": str(world.model.public_id), "serial": "PLANNED-NEW"}


def _model(world: World) -> dict[str, Any]:
    return {"public_id": world.model.public_id}


def _maker(world: World) -> dict[str, Any]:
    return {"public_id": world.model.maker.public_id}


def _other_maker(world: World) -> dict[str, Any]:
    other = Maker.objects.filter(company=world.ours).exclude(pk=world.model.maker_id).order_by("pk")[0]
    return {"into": str(other.public_id)}


def _new_model(world: World) -> dict[str, Any]:
    return {"maker": str(world.model.maker.public_id), "name": "Fiel 9", "kind": "meter"}


def _move(world: World) -> dict[str, Any]:
    return {"to_site": world.sites[-1].code if len(world.sites) > 1 else world.site.code}


def _swap(world: World) -> dict[str, Any]:
    return {name: value for name, value in _scan(world).items() if name != "site"}


def _scan(world: World) -> dict[str, Any]:
    return {
        "id": str(UUID(int=1)), "site": world.site.code, "raw": LABEL, "format": "]d2", "source": "typed",
        "scanned_at": "2026-06-01T12:00:00Z",
    }  # fmt: skip


def _batch(world: World) -> dict[str, Any]:
    return {"scans": [_scan(world)]}


def _label(_world: World) -> dict[str, Any]:
    return {"payload": LABEL, "symbology": "]d2"}


def _plate(world: World) -> dict[str, Any]:
    return {"raw": f"http://127.0.0.1:8000/s/{world.site.code}", "format": "]Q1", "source": "typed"}


def _field_record(world: World) -> dict[str, Any]:
    content = {"raw": LABEL, "format": "]d2", "source": "camera"}
    return {
        "records": [
            {
                "id": str(UUID(int=2)), "kind": "scan", "member": str(world.field.public_id),
                "site": world.site.code, "made_at": "2026-06-01T12:00:00Z", "content": content,
            }
        ]
    }  # fmt: skip


ROWS: dict[str, Row | list[Row]] = {
    "api:reference": anybody(),
    "api:schema": anybody(),
    "api:me": _of_company(),
    "api:sites": [_of_company(), _of_company(201, method="post", data=_new_site)],
    "api:site": [_of_object(path=_site), _of_object(method="patch", path=_site, data=_changed_site)],
    "api:site_plan": [
        _of_object(path=_site),
        _of_object(method="patch", path=_site, data=_changed_plan),
        _of_object(201, method="post", path=_site, data=_unit),
    ],
    "api:site_consents": [
        _of_object(path=_site),
        _of_object(201, method="post", path=_site, data=_consent),
    ],
    "api:site_invitations": [
        _of_object(path=_site),
        _of_object(201, method="post", path=_site, data=_invited),
    ],
    "api:invitations": _of_company(),
    "api:ready_owners": _of_company(),
    "api:invitation": _of_object(path=_invitation),
    "api:makers": [
        _of_company(),
        _of_company(201, **ADMINISTRATORS, method="post", data=lambda _world: {"name": "Medalto"}),
    ],
    "api:maker": [
        _of_object(path=_maker, unassigned=200),
        _of_object(**ADMINISTRATORS, method="patch", path=_maker, data=lambda _world: {"spellings": ["Solvento SA"]}),
    ],
    "api:maker_merge": _of_object(**ADMINISTRATORS, method="post", path=_maker, data=_other_maker),
    "api:models": [
        _of_company(),
        _of_company(201, **ADMINISTRATORS, method="post", data=_new_model, foreign=404),
    ],
    "api:model": [
        _of_object(path=_model, unassigned=200),
        _of_object(**ADMINISTRATORS, method="patch", path=_model, data=lambda _world: {"warranty_months": 120}),
    ],
    "api:devices": _of_company(),
    "api:device": [
        _of_object(path=_device),
        _of_object(method="patch", path=_device, data=lambda _world: {"kind": "battery"}),
    ],
    "api:device_moves": _of_object(409, method="post", path=_device, data=_move),
    "api:device_swaps": _of_object(201, method="post", path=_device, data=_swap),
    "api:scans": [
        _of_object(201, method="post", data=_scan),
        _of_company(method="post", data=_batch),
    ],
    "api:sightings": _of_object(method="post", data=_plate),
    "api:decode_label": _of_company(method="post", data=_label),
    "api:field_session": _of_company(),
    "api:field_records": _of_company(method="post", data=_field_record),
    "api:unknown": [
        anybody(404, path=_nowhere, reader=None, why="nothing is read"),
        *(anybody(404, path=_nowhere, method=method) for method in ("post", "put", "patch", "delete")),
    ],
}
