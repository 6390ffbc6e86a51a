"""Taking one record of the field page: once, whatever the network did, and answered in the same words every time."""

import json
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.core.serializers.json import DjangoJSONEncoder
from django.db import IntegrityError, transaction
from django.utils.module_loading import import_string
from django.utils.translation import gettext_lazy as _

from fleet.models import FieldRecord, Member, Scan
from fleet.operations.captures import keyed_hash
from fleet.operations.field_entries import FieldEntry
from fleet.operations.refusals import Conflicting
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.scans import RecordMismatch
from fleet.queries.sites import site_by_code

RACES = 4


class AnotherMember(Conflicting):
    """The record was made by another member than the one who sends it."""

    code = "another_member"
    sentence = _("Somebody else made this record, so it waits until they sign in. It was not taken.")


@dataclass(frozen=True)
class Taken:
    """What the phone is told, and whether it was told so before."""

    document: dict[str, Any]
    repeated: bool


@unchanged_if_refused
def take_record(*, actor: Member, entry: FieldEntry) -> Taken:
    """Do what the record says, in one transaction, or give the answer that its UUID got before.

    Raises AnotherMember, RecordMismatch, BadRecord, and whatever the act of its kind raises.
    """
    if entry.member != actor.public_id and not entry.from_emergency_file:
        raise AnotherMember
    act = import_string(settings.FIELD_RECORD_KINDS[entry.kind])
    if entry.kind == "scan":
        return _take_scan(actor, entry, act)
    for _race in range(RACES):
        try:
            with transaction.atomic():
                return _stored(actor, entry) or _take(actor, entry, act)
        except IntegrityError:
            continue  # the same record came twice at once, and the other one was first: look again
    with transaction.atomic():
        return _stored(actor, entry) or _take(actor, entry, act)


def _take_scan(actor: Member, entry: FieldEntry, act: Any) -> Taken:
    if FieldRecord.objects.filter(company_id=actor.company_id, client_id=entry.id).exists():
        raise RecordMismatch
    answer = act(actor=actor, entry=entry)
    return Taken(answer.document, answer.repeated)


def _stored(actor: Member, entry: FieldEntry) -> Taken | None:
    record = FieldRecord.objects.filter(company_id=actor.company_id, client_id=entry.id).first()
    if record is None:
        if Scan.objects.filter(company_id=actor.company_id, client_id=entry.id).exists():
            raise RecordMismatch
        return None
    if record.member_id != actor.pk or record.fingerprint != _fingerprint(actor, entry):
        raise RecordMismatch
    return Taken(record.answer, repeated=True)


def _take(actor: Member, entry: FieldEntry, act: Any) -> Taken:
    answer = json.loads(json.dumps(act(actor=actor, entry=entry), cls=DjangoJSONEncoder))
    FieldRecord.objects.create(
        company_id=actor.company_id,
        client_id=entry.id,
        kind=entry.kind,
        fingerprint=_fingerprint(actor, entry),
        seq=entry.seq,
        installation=entry.installation,
        member=actor,
        site=site_by_code(actor, entry.site_code) if entry.site_code else None,
        made_at=entry.made_at,
        skew=entry.skew,
        answer=answer,
        from_emergency_file=entry.from_emergency_file,
    )
    return Taken(answer, repeated=False)


def _fingerprint(actor: Member, entry: FieldEntry) -> str:
    content = [
        str(entry.id), entry.kind, entry.seq, str(entry.installation or ""), str(actor.user_id), entry.site_code,
        entry.made_at.isoformat(), entry.content,
    ]  # fmt: skip
    return keyed_hash("field-record", json.dumps(content, sort_keys=True, ensure_ascii=False))
