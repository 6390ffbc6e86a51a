"""Staff's pages about owners, consents, invitations and wordings: who gets what."""

from typing import Any

from django.utils import timezone

from onboarding.models import DeliveryState, Invitation, InvitationBatch, Ownership, SaleReport, Suppression
from tests import rows
from tests.access_table import Row, staff_object, staff_page
from tests.world import World


def _site(world: World) -> dict[str, Any]:
    return {"code": world.site.written_code}


def _owner(world: World) -> dict[str, Any]:
    """Somebody without an account, not invited yet, who may be written to."""
    owner = rows.make_owner(world.ours)
    rows.own(owner, world.site)
    rows.make_consent(world.site, owner)
    return {"code": world.site.written_code, "owner_id": owner.public_id}


def _selling(world: World) -> dict[str, Any]:
    """An owner who told that the house is sold."""
    where = _owner(world)
    ownership = Ownership.objects.get(owner__public_id=where["owner_id"], site=world.site)
    SaleReport.objects.create(company=world.ours, ownership=ownership, sold_on=rows.LONG_AGO.date())
    return where


def _one_owner(world: World) -> dict[str, Any]:
    return {"owner_id": _owner(world)["owner_id"]}


def _known(world: World) -> dict[str, Any]:
    """An owner of the company who does not own the site yet."""
    return {"code": world.site.written_code, "owner_id": rows.make_owner(world.ours).public_id}


def _invitation(world: World) -> dict[str, Any]:
    return {"public_id": world.invitation.public_id}


def _batch(world: World) -> dict[str, Any]:
    """A press that invited the owner of the first invitation."""
    batch = InvitationBatch.objects.create(company=world.ours, made_by=world.office, leaves_at=timezone.now())
    Invitation.objects.filter(pk=world.invitation.pk).update(batch=batch)
    return {"public_id": batch.public_id}


def _delivery(world: World) -> dict[str, Any]:
    delivery = world.invitation.deliveries.order_by("id")[0]
    type(delivery).objects.filter(pk=delivery.pk).update(state=DeliveryState.UNKNOWN)
    return {"public_id": delivery.public_id}


def _suppression(world: World) -> dict[str, Any]:
    return {"public_id": Suppression.objects.filter(company=world.ours).order_by("id")[0].public_id}


def _wording(_world: World) -> dict[str, Any]:
    return {"purpose": "contact", "language": "en"}


def _facts(_world: World) -> dict[str, Any]:
    return {"name": "Rui Exemplo", "email": "rui@example.net", "kind": "person", "language": "pt"}


def _wording_facts(_world: World) -> dict[str, Any]:
    lines = dict.fromkeys(("controller", "kinds", "processing", "storage", "retention", "withdrawal"), "as agreed")
    return lines | {
        "text": "You may write to me about this site.",
        "jurisdiction": "PT",
        "valid_months": 0,
        "act": "publish",
    }


def _several(world: World) -> dict[str, Any]:
    return {"act": "remind", "invitation": [str(each.public_id) for each in world.invitations], "show": "waiting"}


def _ownerships(world: World) -> dict[str, Any]:
    return {"ownership": [each.pk for each in Ownership.objects.filter(site=world.site)]}


def administrators(status: int = 200, *, others: int = 403, **more: Any) -> Row:
    """A page or act of administrators: office and field members get 403."""
    return staff_page(status, office=others, field=others, **more)


def administrators_object(status: int, **more: Any) -> Row:
    """An act of administrators on one object of ours."""
    return staff_object(status, office=403, field=403, **({"unassigned": 403} | more))


STAFF_ROWS: dict[str, Row | list[Row]] = {
    "onboarding:new_site": [staff_page(), staff_page(422, method="post")],
    "onboarding:known_already": staff_page(
        method="post",
        query=lambda _world: {"about": "address"},
        data=lambda world: {"street": world.site.street, "house_number": world.site.house_number},
    ),
    "onboarding:new_owner": [
        staff_object(path=_site),
        staff_object(302, path=_site, method="post", data=_facts),
    ],
    "onboarding:change_owner": [
        staff_object(path=_owner),
        staff_object(302, path=_owner, method="post", data=_facts),
    ],
    "onboarding:attach_owner": staff_object(302, field=404, path=_known, method="post"),
    "onboarding:end_ownership": staff_object(302, field=403, path=_owner, method="post"),
    "onboarding:keep_owner": staff_object(302, field=403, path=_selling, method="post"),
    "onboarding:sales": staff_page(),
    "onboarding:invite": staff_object(302, path=_owner, method="post"),
    "onboarding:print_letter": staff_object(200, field=403, path=_owner, method="post"),
    "onboarding:record_consent": [
        staff_object(path=_owner),
        staff_object(
            302,
            path=_owner,
            method="post",
            data=lambda _w: {"purpose": "monitoring", "state": "given", "how": "staff_statement"},
        ),
    ],
    "onboarding:invitations": staff_page(query=lambda _w: {"show": "waiting"}),
    "onboarding:act_on_invitations": staff_page(method="post", data=_several),
    "onboarding:ready": staff_page(),
    "onboarding:invite_several": staff_page(method="post", data=_ownerships),
    "onboarding:batch": staff_object(path=_batch),
    "onboarding:take_back": staff_object(302, path=_batch, method="post"),
    "onboarding:sending": staff_page(),
    "onboarding:invitation": staff_object(path=_invitation),
    "onboarding:act_on_invitation": staff_object(
        302, path=_invitation, method="post", data=lambda _w: {"act": "remind"}
    ),
    "onboarding:settle": administrators_object(302, path=_delivery, method="post", data=lambda _w: {"arrived": "yes"}),
    "onboarding:suppressions": [
        staff_page(),
        staff_page(
            302,
            office=403,
            field=403,
            method="post",
            data=lambda _w: {"address": "left@example.com", "reason": "by_staff"},
        ),
    ],
    "onboarding:lift_suppression": administrators_object(302, path=_suppression, method="post"),
    "onboarding:erase_owner": [
        administrators_object(200, path=_one_owner),
        administrators_object(302, path=_one_owner, method="post", data=lambda _w: {"sure": "on"}),
    ],
    "onboarding:endings": staff_page(),
    "onboarding:wordings": administrators(),
    "onboarding:wording": [
        administrators(path=_wording, shared=True),
        administrators(
            302, path=_wording, shared=True, method="post", data=lambda w: _wording_facts(w) | {"act": "publish"}
        ),
    ],
}
