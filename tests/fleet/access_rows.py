"""The register's pages and acts."""

from typing import Any

from fleet.models import LabelForm, Maker, Scan
from tests.access_table import Row, anybody, staff_object, staff_page
from tests.world import World


def _site(world: World) -> dict[str, Any]:
    return {"code": world.site.code}


def _scan(world: World) -> dict[str, Any]:
    scan = Scan.objects.filter(site=world.site).order_by("pk")[0]
    return {"code": world.site.code, "client_id": scan.client_id}


def _placement(world: World) -> dict[str, Any]:
    return {"code": world.site.code, "public_id": world.placements[0].public_id}


def _device(world: World) -> dict[str, Any]:
    return {"public_id": world.device.public_id}


def _file(world: World) -> dict[str, Any]:
    return {"public_id": world.file.public_id}


def _person(world: World) -> dict[str, Any]:
    return {"public_id": world.field.public_id}


def _assignment(world: World) -> dict[str, Any]:
    return {"code": world.site.code, "public_id": world.field.public_id}


def _member_invitation(world: World) -> dict[str, Any]:
    return {"public_id": world.member_invitation.public_id}


def _model(world: World) -> dict[str, Any]:
    return {"public_id": world.model.public_id}


def _maker(world: World) -> dict[str, Any]:
    return {"public_id": world.model.maker.public_id}


def _other_maker(world: World) -> dict[str, Any]:
    other = Maker.objects.filter(company=world.ours).exclude(pk=world.model.maker_id).order_by("pk")[0]
    return {"into": str(other.public_id)}


def _api_token(world: World) -> dict[str, Any]:
    return {"public_id": world.token.public_id}


def _taught(world: World) -> dict[str, Any]:
    form, _made = LabelForm.objects.get_or_create(company=world.ours, name="round label", pattern="SN:(?P<serial>A+)")
    return {"name": form.name}


def _no_link(_world: World) -> dict[str, Any]:
    return {"token": "no-such-link"}


def _desk_act(**more: Any) -> Row:
    """An act at one site for the office and administrators; field members who see the site may not."""
    return staff_object(302, field=403, method="post", path=_site, **more)


def _administrators(path: Any, **more: Any) -> Row:
    """A page or act about one object for administrators."""
    return staff_object(path=path, office=403, field=403, unassigned=403, **more)


ROWS: dict[str, Row | list[Row]] = {
    "fleet:today": staff_page(owner=302, other_owner=302, outsider=302),
    "fleet:labels_waiting": staff_page(),
    "fleet:problems": staff_page(),
    "fleet:search": staff_page(query=lambda world: {"q": world.site.street}),
    "fleet:act_for": staff_page(302, method="post", data=lambda world: {"membership": str(world.office.public_id)}),
    "fleet:appearance": anybody(302, method="post", data=lambda _world: {"theme": "dark"}),
    "fleet:sites": staff_page(query=lambda world: {"q": world.site.street, "counts": "shown"}),
    "fleet:site_filters": staff_page(query=lambda world: {"q": world.site.street}),
    "fleet:site_columns": staff_page(302, method="post", data=lambda _world: {"column": "owner"}),
    "fleet:read_place": staff_page(method="post", data=lambda _world: {"place": "38.5713, -7.9136"}),
    "fleet:site": staff_object(path=_site),
    "fleet:edit_site": [staff_object(path=_site), staff_object(422, path=_site, method="post")],
    "fleet:plate": [staff_object(path=_site), staff_object(302, path=_site, method="post")],
    "fleet:field": anybody(),
    "fleet:field_service_worker": anybody(),
    "fleet:field_script": anybody(),
    "fleet:field_decoder": anybody(),
    "fleet:field_manifest": anybody(),
    "fleet:field_import": [staff_page(field=403), staff_page(422, field=403, method="post")],
    "fleet:field_import_record": staff_page(field=403, method="post"),
    "fleet:hand_over": [staff_object(path=_site), staff_object(302, method="post", path=_site)],
    "fleet:take_back_handover": staff_object(302, method="post", path=_site),
    "fleet:retire_site": _desk_act(),
    "fleet:tag_site": staff_object(302, method="post", path=_site, data=lambda _world: {"tags": "north, south"}),
    "fleet:record_check": staff_object(
        302, method="post", path=_site, data=lambda _world: {"title": "Isolator labelled", "finding": "done"}
    ),
    "fleet:assign": _desk_act(data=lambda world: {"member": str(world.unassigned.public_id)}),
    "fleet:unassign": staff_object(302, field=403, method="post", path=_assignment),
    "fleet:plan": [
        staff_object(path=_site),
        staff_object(302, path=_site, method="post", data=lambda _world: {"inverter": "2", "optimiser": "0"}),
        staff_object(422, path=_site, method="post", data=lambda _world: {"inverter": "-1"}),
    ],
    "fleet:plan_unit": [
        staff_object(302, path=_site, method="post", data=lambda _world: {"kind": "battery"}),
        staff_object(422, path=_site, method="post"),
    ],
    "fleet:take_unit_off_plan": staff_object(
        302, path=_site, method="post", data=lambda _world: {"serial": "PLANNED-0"}
    ),
    "fleet:add_file": staff_object(302, method="post", path=_site),
    "fleet:file": staff_object(410, path=_file),  # the world's files have no content
    "fleet:scan": [
        staff_object(path=_site),
        staff_object(302, path=_site, method="post", data=lambda _world: {"text": "SN-55120"}),
    ],
    "fleet:place_by_hand": [staff_object(path=_site), staff_object(422, path=_site, method="post")],
    "fleet:scan_result": staff_object(path=_scan),
    "fleet:confirm_scan": staff_object(302, path=_scan, method="post"),
    "fleet:take_one_code": staff_object(302, path=_scan, method="post", data=lambda _world: {"number": "1"}),
    "fleet:move_here": staff_object(302, path=_scan, method="post"),
    "fleet:swap": [staff_object(path=_placement), staff_object(422, path=_placement, method="post")],
    "fleet:lead": staff_object(302, path=_placement, method="post"),
    "fleet:describe": staff_object(302, path=_placement, method="post", data=lambda _world: {"kind": "inverter"}),
    "fleet:describe_unit": staff_object(302, path=_device, method="post", data=lambda _world: {"kind": "meter"}),
    # It stood there for months: only an administrator undoes that.
    "fleet:undo_placement": staff_object(302, office=403, field=403, path=_placement, method="post"),
    "fleet:device": staff_object(path=_device),
    "fleet:move": [
        staff_object(path=_device),
        staff_object(409, path=_device, method="post", data=lambda world: {"to_site": world.site.code}),
    ],
    "fleet:retire_device": staff_object(302, field=403, path=_device, method="post"),
    "fleet:firmware": staff_object(302, path=_device, method="post", data=lambda _world: {"version": "2.4.1"}),
    "fleet:members": [staff_page(), staff_page(422, office=403, field=403, method="post")],
    "fleet:member": _administrators(_person),
    "fleet:member_role": _administrators(_person, status=302, method="post", data=lambda _world: {"role": "office"}),
    "fleet:deactivate_member": _administrators(_person, status=302, method="post"),
    "fleet:cancel_member_invitation": _administrators(_member_invitation, status=302, method="post"),
    "fleet:join": [
        anybody(404, path=_no_link, shared=True),
        anybody(404, path=_no_link, shared=True, method="post"),
    ],
    "fleet:tokens": [staff_page(), staff_page(422, method="post")],
    "fleet:revoke_token": staff_object(302, office=404, field=404, path=_api_token, method="post"),
    "fleet:policy": [
        staff_page(office=403, field=403),
        staff_page(422, office=403, field=403, method="post"),
    ],
    "fleet:catalogue": staff_page(),
    "fleet:start_catalogue": staff_page(
        302, office=403, field=403, method="post", data=lambda _world: {"list": "generic"}
    ),
    "fleet:new_catalogue_model": [
        staff_page(office=403, field=403),
        staff_page(422, office=403, field=403, method="post"),
    ],
    "fleet:catalogue_model": [
        _administrators(_model),
        _administrators(_model, status=302, method="post", data=lambda _world: {"name": "Fiel 9", "kind": "meter"}),
    ],
    "fleet:remove_model": _administrators(_model, status=302, method="post"),
    "fleet:new_maker": [
        staff_page(office=403, field=403),
        staff_page(422, office=403, field=403, method="post"),
    ],
    "fleet:maker": [
        _administrators(_maker),
        _administrators(_maker, status=302, method="post", data=lambda _world: {"name": "Medalto"}),
    ],
    "fleet:merge_maker": [
        _administrators(_maker, query=_other_maker),
        _administrators(_maker, status=302, method="post", data=_other_maker),
        _administrators(_maker, status=422, method="post"),
    ],
    "fleet:remove_maker": _administrators(_maker, status=302, method="post"),
    "fleet:link_domains": [
        staff_page(office=403, field=403),
        staff_page(302, office=403, field=403, method="post", data=lambda _world: {"domain": "id.example.com"}),
    ],
    "fleet:measurement_pages": [
        staff_page(office=403, field=403),
        # a maker of ours is nobody else's: the others' companies have none of this name
        staff_page(
            302,
            office=403,
            field=403,
            foreign=404,
            method="post",
            data=lambda world: {"maker": world.model.maker.name, "url": "https://see.example.com/"},
        ),
    ],
    "fleet:label_forms": staff_page(office=403, field=403),
    "fleet:new_label_form": [
        staff_page(office=403, field=403),
        staff_page(422, office=403, field=403, method="post"),
    ],
    "fleet:label_form": [
        _administrators(_taught),
        _administrators(_taught, status=422, method="post"),
    ],
    "fleet:switch_label_form": _administrators(_taught, status=302, method="post"),
    "fleet:unlist_domain": staff_page(
        404, office=403, field=403, method="post", data=lambda _world: {"domain": "id.example.net"}
    ),
}
