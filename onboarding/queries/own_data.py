"""Everything that is kept about an owner, as one document for them to take along (GDPR Articles 15 and 20)."""

from collections import defaultdict
from typing import Any

from fleet.models import Placement
from onboarding.ledger.receipts import receipt
from onboarding.models import ConsentEntry, Delivery, InvitationEvent, Owner, Ownership
from onboarding.queries.mine import told


def own_data(owner: Owner) -> dict[str, Any]:
    """The document: the person, their sites with what stands there, receipts, invitations and mails."""
    ownerships = list(Ownership.objects.filter(owner=owner).select_related("site").order_by("since", "id"))
    open_sites = [each.site_id for each in ownerships if each.until is None]
    devices, receipts, events = _devices(open_sites), _receipts(owner), _events(owner)
    return {
        "company": owner.company.name,
        "person": _person(owner),
        "sites": [
            {
                "code": each.site.written_code,
                "address": each.site.address_line,
                "owned_since": each.since.isoformat(),
                "owned_until": each.until.isoformat() if each.until else None,
                "devices": devices[each.site_id],
                "consent_receipts": receipts[each.site_id],
                "invitation_events": events[each.site_id],
            }
            for each in ownerships
        ],
        "mails": [_mail(each) for each in Delivery.objects.filter(owner=owner).order_by("id")],
    }


def _person(owner: Owner) -> dict[str, Any]:
    return {
        "id": str(owner.public_id),
        "name": owner.name,
        "email": owner.email,
        "phone": owner.phone,
        "postal_address": owner.postal_address,
        "kind": owner.kind,
        "language": owner.language,
        "since": owner.created_at.isoformat(),
    }


def _devices(site_ids: list[int]) -> dict[int, list[dict[str, Any]]]:
    found: dict[int, list[dict[str, Any]]] = defaultdict(list)
    placements = Placement.objects.filter(site__in=site_ids, until__isnull=True).select_related("device__model__maker")
    for placement in placements.order_by("since", "id"):
        device = placement.device
        found[placement.site_id].append(
            {
                "kind": device.kind,
                "maker": device.model.maker.name if device.model else "",
                "model": device.model.name if device.model else "",
                "serial": device.serial,
                "since": placement.since.isoformat(),
            }
        )
    return found


def _receipts(owner: Owner) -> dict[int, list[dict[str, Any]]]:
    found: dict[int, list[dict[str, Any]]] = defaultdict(list)
    entries = ConsentEntry.objects.filter(owner=owner).select_related("wording", "site", "owner", "detail")
    for entry in entries.order_by("position"):
        found[entry.site_id].append(receipt(told(entry)))
    return found


def _events(owner: Owner) -> dict[int, list[dict[str, Any]]]:
    found: dict[int, list[dict[str, Any]]] = defaultdict(list)
    events = InvitationEvent.objects.filter(invitation__owner=owner).select_related("invitation")
    for event in events.order_by("id"):
        found[event.invitation.site_id].append({"at": event.at.isoformat(), "what": event.what})
    return found


def _mail(delivery: Delivery) -> dict[str, Any]:
    return {
        "stream": delivery.stream,
        "to": delivery.to_address,
        "state": delivery.state,
        "queued": delivery.created_at.isoformat(),
        "ended": delivery.ended_at.isoformat() if delivery.ended_at else None,
    }
