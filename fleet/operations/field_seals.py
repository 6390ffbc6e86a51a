"""Unsent records that a phone sealed for their member: the key is the server's, and the office can open them.

A phone gets its member's key with each session, and drops it on signing out; what it sealed then is AES-256-GCM
(NIST SP 800-38D) with the membership's public id as associated data, so that a seal of one member opens for no other.
"""

import base64
import binascii
import json
from typing import Any
from uuid import UUID

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from fleet.models import Member
from fleet.operations.captures import keyed_hash
from fleet.operations.refusals import BadInput
from fleet.operations.rollback import unchanged_if_refused


class SealBroken(BadInput):
    """The sealed records cannot be opened."""

    code = "seal_broken"


def seal_key(member: Member) -> bytes:
    """The 32 bytes that seal this member's records; the same as long as the installation keeps its ledger key."""
    return bytes.fromhex(keyed_hash("field-seal", str(member.public_id)))


@unchanged_if_refused
def open_seal(*, actor: Member, holder: str, parcels: Any) -> tuple[Member, list[Any]]:
    """The member of the actor's company whose records these are, present or past, and these. Raises SealBroken."""
    member = _member(actor, holder)
    if member is None or not isinstance(parcels, list):
        raise SealBroken
    records: list[Any] = []
    for parcel in parcels:
        try:
            nonce, data = (base64.b64decode(parcel[name], validate=True) for name in ("iv", "data"))
            opened = json.loads(AESGCM(seal_key(member)).decrypt(nonce, data, str(member.public_id).encode()))
        except (KeyError, TypeError, ValueError, binascii.Error, InvalidTag, RecursionError) as error:
            raise SealBroken from error
        if not isinstance(opened, list):
            raise SealBroken
        records += opened
    return member, records


def _member(actor: Member, holder: str) -> Member | None:
    try:
        public_id = UUID(holder)
    except (ValueError, TypeError, AttributeError):
        return None
    return Member.objects.filter(company_id=actor.company_id, public_id=public_id).select_related("user").first()
