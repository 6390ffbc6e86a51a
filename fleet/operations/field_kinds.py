"""What each kind of field record does, by calling the same act that a page or a program would."""

from typing import Any

from django.utils.translation import gettext as _

from fleet.models import Member, Site
from fleet.operations.captures import Capture
from fleet.operations.checks import record_check
from fleet.operations.field_entries import BadRecord, FieldEntry
from fleet.operations.files import store_file
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.scan_answers import ScanAnswer, device_document, site_document
from fleet.operations.scans import record_scan
from fleet.operations.sightings import sight
from fleet.operations.site_guard import UnknownSite
from fleet.queries.sites import site_by_code


@unchanged_if_refused
def take_scan(*, actor: Member, entry: FieldEntry) -> ScanAnswer:
    """A label. A capture from an emergency file links only what the person who imports it confirmed."""
    return record_scan(
        actor=actor,
        capture=Capture(
            id=entry.id,
            site_code=entry.site_code,
            raw=entry.raw(),
            format=entry.text("format", most=12, default=""),
            more=_further_codes(entry),
            source=entry.text("source", most=12),
            scanned_at=entry.made_at,
            seq=entry.seq,
            installation=entry.installation,
            confirmed=entry.flag("confirmed"),
            meant_device=entry.uuid("meant_device"),
            another_unit=entry.flag("another_unit"),
            from_emergency_file=entry.from_emergency_file,
            skew=entry.skew,
        ),
    )


@unchanged_if_refused
def take_sight(*, actor: Member, entry: FieldEntry) -> dict[str, Any]:
    """A plate, or a device that stands somewhere: which site it is."""
    source = "typed" if entry.from_emergency_file else entry.text("source", most=12)
    found = sight(actor=actor, raw=entry.raw(), format=entry.text("format", most=12, default=""), source=source)
    return {
        "outcome": "found",
        "sentence": _("This is the site."),
        "site": site_document(found.site),
        "device": device_document(found.device) if found.device else None,
    }


@unchanged_if_refused
def take_check(*, actor: Member, entry: FieldEntry) -> dict[str, Any]:
    """A handover check's finding."""
    check = record_check(
        actor=actor,
        site=site_of(actor, entry),
        title=entry.text("title", most=120),
        finding=entry.text("finding", most=12),
        note=entry.text("note", most=2000, default=""),
    )
    return {"outcome": "taken", "sentence": _("The finding is recorded."), "id": str(check.public_id)}


@unchanged_if_refused
def take_file(*, actor: Member, entry: FieldEntry) -> dict[str, Any]:
    """A photo or another file."""
    stored = store_file(
        actor=actor,
        site=site_of(actor, entry),
        name=entry.text("name", most=120),
        content=entry.bytes("data"),
        content_type=entry.text("content_type", most=80),
        purpose=entry.text("purpose", most=24, default="photo"),
    )
    return {"outcome": "taken", "sentence": _("The photo is stored."), "id": str(stored.public_id)}


def site_of(actor: Member, entry: FieldEntry) -> Site:
    """The visible site that the record names. Raises UnknownSite."""
    site = site_by_code(actor, entry.site_code)
    if site is None:
        raise UnknownSite
    return site


def _further_codes(entry: FieldEntry) -> tuple[tuple[str, str], ...]:
    more = entry.content.get("more", [])
    if not isinstance(more, list) or len(more) > 8:
        raise BadRecord(field="more")
    for code in more:
        if not isinstance(code, list) or len(code) != 2 or not all(isinstance(part, str) for part in code):
            raise BadRecord(field="more")
    return tuple((raw[:4000], symbology[:12]) for raw, symbology in more)
