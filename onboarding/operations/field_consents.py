"""A consent that was recorded on the phone, with the owner beside it."""

from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from fleet.models import FieldRecord, Member, Site, StoredFile
from fleet.operations.field_entries import BadRecord, FieldEntry
from fleet.operations.field_kinds import site_of
from fleet.operations.files import store_file
from fleet.operations.rollback import unchanged_if_refused
from onboarding.models import ConsentStanding, Evidence, Owner, Wording
from onboarding.operations.consents import OwnerNotHere, record_consent
from onboarding.queries.effects import effect_of


@unchanged_if_refused
def take_consent(*, actor: Member, entry: FieldEntry) -> dict[str, Any]:
    """What the owner said, under the wording that the phone showed; a signature is kept as a file.

    From an emergency file it is what staff report, never the owner's own evidence. Raises BadRecord, UnknownSite,
    OwnerNotHere and what :func:`record_consent` and :func:`store_file` raise.
    """
    site = site_of(actor, entry)
    signature = _signature(actor, site, entry)
    owner, purpose = _owner(site, entry), entry.text("purpose", most=14)
    consent = record_consent(
        actor=actor,
        site=site,
        owner=owner,
        purpose=purpose,
        state=entry.text("state", most=12),
        how=Evidence.STAFF_STATEMENT if entry.from_emergency_file else entry.text("how", most=16),
        reference=entry.text("reference", most=120, default=""),
        file=None if entry.from_emergency_file else signature,
        at=_said_at(site, owner, purpose, entry),
        entry_id=entry.id,
        wording=_wording(actor, entry),
    )
    return {"outcome": "taken", "sentence": effect_of(consent).sentence, "id": str(consent.entry_id)}


def _said_at(site: Site, owner: Owner, purpose: str, entry: FieldEntry) -> datetime:
    """When it was said; what one phone recorded is in the order of its own counting, whatever its clock did between."""
    moment = entry.happened_at
    standing = ConsentStanding.objects.filter(site=site, owner=owner, purpose=purpose).select_related("entry").first()
    if standing is None or entry.installation is None:
        return moment
    by_this_phone = FieldRecord.objects.filter(
        company_id=site.company_id, client_id=standing.entry.entry_id, installation=entry.installation
    )
    before = by_this_phone.values_list("seq", flat=True).first()
    if before is None:
        return moment
    return max(moment, standing.at) if entry.seq > before else min(moment, standing.at - timedelta(microseconds=1))


def _owner(site: Site, entry: FieldEntry) -> Owner:
    owner = Owner.objects.filter(
        public_id=entry.uuid("owner") or UUID(int=0), ownerships__site=site, ownerships__until__isnull=True
    ).first()
    if owner is None:
        raise OwnerNotHere
    return owner


def _signature(actor: Member, site: Site, entry: FieldEntry) -> StoredFile | None:
    picture = entry.bytes("signature")
    if not picture:
        return None
    return store_file(
        actor=actor, site=site, name=f"signature-{entry.id}.png", content=picture, content_type="image/png",
        purpose="signature",
    )  # fmt: skip


def _wording(actor: Member, entry: FieldEntry) -> Wording | None:
    """The wording that was shown: purpose, language and version name it. None where the phone had none."""
    version = entry.content.get("wording_version")
    if version is None:
        return None
    if not isinstance(version, int) or isinstance(version, bool) or not 0 < version < 2**31:
        raise BadRecord(field="wording_version")
    wording = Wording.objects.filter(
        company_id=actor.company_id,
        purpose=entry.text("purpose", most=14),
        language=entry.text("wording_language", most=10),
        version=version,
    ).first()
    if wording is None:
        raise BadRecord(field="wording_version")
    return wording
