"""What the sender of a scan is told, from what the scan keeps: the same words every time it asks."""

from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from fleet.models import Device, Member, Outcome, Placement, Scan, Site
from fleet.queries.devices import open_placement
from fleet.queries.visibility import may_see

SENTENCES = {
    Outcome.LINKED: _("Linked to this site."),
    Outcome.ALREADY_HERE: _("This device stands here already; nothing was changed."),
    Outcome.ELSEWHERE: _("This device stands at another site; nothing was changed. Move it if it is really here."),
    Outcome.CONFIRM: _("A person must confirm this reading before the device is linked. Compare it with the label."),
    Outcome.REFUSED: _("This label was not taken; nothing was linked."),
}
REASON_SENTENCES = {
    "site_retired": _("The site is retired, so no device was linked."),
    "site_plate": _("This is the plate of a site, not the label of a device."),
    "no_serial": _("The label was understood, but it holds no serial number. Scan another code on the device."),
    "device_retired": _("This device is retired. An administrator can undo that if it is in service again."),
    "plain_reading": _("The code is plain text. Compare it with the label and confirm."),
    "same_serial": _("A device with this serial number is in the register. Compare: is it this one, or another unit?"),
    "facts_differ": _(
        "A device with this serial number is in the register, but something else on the label differs. "
        "Is it this one, or another unit?"
    ),
}


@dataclass(frozen=True, kw_only=True)
class ScanAnswer:
    """The stored scan, and whether this was a repeated record."""

    scan: Scan
    repeated: bool

    @property
    def document(self) -> dict[str, Any]:
        """The answer as JSON values."""
        scan = self.scan
        return {
            "id": str(scan.client_id),
            "outcome": scan.outcome,
            "reason": scan.reason,
            "sentence": str(SENTENCES[Outcome(scan.outcome)]),
            "why": reason_sentence(scan),
            "reading": scan.reading,
            **scan.answer,
        }


def reason_sentence(scan: Scan) -> str:
    """The sentence for the scan's reason, empty where there is none."""
    if not scan.reason:
        return ""
    if scan.reason in REASON_SENTENCES:
        return str(REASON_SENTENCES[scan.reason])
    return gettext(scan.reading.get("reason", ""))


def answer_document(
    *,
    device: dict[str, Any] | None,
    placement: Placement | None,
    site: Site,
    other_site: Site | None,
    candidates: tuple[dict[str, Any], ...],
) -> dict[str, Any]:
    """The facts of an answer that are kept with the scan."""
    return {
        "site": site_document(site),
        "device": device,
        "placement": {"id": str(placement.public_id), "since": placement.since.isoformat()} if placement else None,
        "other_site": site_document(other_site) if other_site else None,
        "candidates": list(candidates),
    }


def site_document(site: Site) -> dict[str, Any]:
    """A site by its written code and address."""
    return {"code": site.written_code, "address": site.address_line}


def device_document(device: Device) -> dict[str, Any]:
    """A device as answers name it."""
    return {
        "id": str(device.public_id),
        "serial": device.serial,
        "kind": device.kind,
        "model": device.model.name if device.model else "",
        "maker": device.model.maker.name if device.model else "",
    }


def candidate_document(actor: Member, device: Device, why: str) -> dict[str, Any]:
    """A device that a reading may mean, why (a key of nearmiss.WHY), and where it stands if the actor may know."""
    standing = open_placement(device)
    shown = standing.site if standing and may_see(actor, standing.site) else None
    return device_document(device) | {
        "why": why,
        "site": site_document(shown) if shown else None,
    }
