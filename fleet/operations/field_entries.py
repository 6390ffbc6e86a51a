"""One record as the field page makes it, read strictly: what it does not understand, it refuses with the place."""

import base64
import binascii
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.moments import read_moment
from fleet.operations.refusals import BadInput

LARGEST_SEQ = 2**53
LARGEST_SKEW_MS = 60 * 366 * 86_400_000
"""Sixty years: a clock that counts from 1970."""
MISSING: Any = object()


class BadRecord(BadInput):
    """The record cannot be read; ``field`` names the member at fault."""

    code = "bad_record"
    sentence = _("The office's computer could not understand this record. It was not kept there.")


@dataclass(frozen=True, kw_only=True)
class FieldEntry:
    """One record: who made it where and when, and its content by kind.

    ``member`` is the public id of the membership it was made under; ``site_code`` is empty for a sighting. ``made_at``
    is by the phone's clock; ``skew`` is how far that clock was behind the server's (negative: ahead), None where the
    phone never compared the two.
    """

    id: UUID
    kind: str
    member: UUID
    made_at: datetime
    content: dict[str, Any]
    seq: int = 0
    installation: UUID | None = None
    site_code: str = ""
    from_emergency_file: bool = False
    skew: timedelta | None = None

    @property
    def happened_at(self) -> datetime:
        """When it was made, by the server's clock as far as the phone's was compared with it; never in the future."""
        return corrected(self.made_at, self.skew)

    def text(self, name: str, *, most: int, default: str | None = None) -> str:
        """A text of the content, of at most ``most`` characters. Raises BadRecord."""
        value = self.content.get(name, MISSING if default is None else default)
        if not isinstance(value, str) or len(value) > most or "\x00" in value or _has_surrogate(value):
            raise BadRecord(field=name)
        return value

    def raw(self) -> str:
        """The payload exactly as it was read, whatever characters it holds. Raises BadRecord."""
        value = self.content.get("raw")
        if not isinstance(value, str) or len(value) > 4000:
            raise BadRecord(field="raw")
        return value

    def flag(self, name: str) -> bool:
        """A yes or no of the content; no where it is left out. Raises BadRecord."""
        value = self.content.get(name, False)
        if not isinstance(value, bool):
            raise BadRecord(field=name)
        return value

    def uuid(self, name: str) -> UUID | None:
        """A UUID of the content, or None where it is left out. Raises BadRecord."""
        value = self.content.get(name)
        return None if value is None else _uuid(value, name)

    def bytes(self, name: str) -> bytes:
        """Bytes that the content holds in base64; empty where left out. Raises BadRecord."""
        value = self.content.get(name, "")
        if not isinstance(value, str) or len(value) > settings.UPLOAD_MAX_BYTES * 4 // 3 + 4:
            raise BadRecord(field=name)
        try:
            return base64.b64decode(value, validate=True)
        except (binascii.Error, ValueError) as error:
            raise BadRecord(field=name) from error


def corrected(moment: datetime, skew: timedelta | None) -> datetime:
    """A phone's moment by the server's clock; never in the future, where the phone's clock was compared."""
    return moment if skew is None else min(moment + skew, timezone.now())


def read_entry(data: Any, *, from_emergency_file: bool = False) -> FieldEntry:
    """The record that ``data`` (as JSON gave it) describes. Raises BadRecord, with the member at fault as its field."""
    if not isinstance(data, dict):
        raise BadRecord
    kind = data.get("kind")
    if not isinstance(kind, str) or kind not in settings.FIELD_RECORD_KINDS:
        raise BadRecord(_("This record is of a kind that is not known here. It was not kept."), field="kind")
    content = data.get("content")
    if not isinstance(content, dict):
        raise BadRecord(field="content")
    site_code = data.get("site", "")
    if not isinstance(site_code, str) or len(site_code) > 40:
        raise BadRecord(field="site")
    return FieldEntry(
        id=_uuid(data.get("id"), "id"),
        kind=kind,
        member=_uuid(data.get("member"), "member"),
        made_at=_moment(data.get("made_at")),
        content=content,
        seq=_seq(data.get("seq", 0)),
        installation=None if data.get("installation") is None else _uuid(data["installation"], "installation"),
        site_code=site_code,
        from_emergency_file=from_emergency_file,
        skew=_skew(data.get("skew_ms")),
    )


def _uuid(value: Any, name: str) -> UUID:
    try:
        return UUID(value)
    except (ValueError, TypeError, AttributeError) as error:
        raise BadRecord(field=name) from error


def _moment(value: Any) -> datetime:
    moment = read_moment(value) if isinstance(value, str) else None
    if moment is None:
        raise BadRecord(field="made_at")
    return moment


def _seq(value: Any) -> int:
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= LARGEST_SEQ:
        return value
    raise BadRecord(field="seq")


def _skew(value: Any) -> timedelta | None:
    if value is None:
        return None
    if isinstance(value, int) and not isinstance(value, bool) and abs(value) <= LARGEST_SKEW_MS:
        return timedelta(milliseconds=value)
    raise BadRecord(field="skew_ms")


def _has_surrogate(text: str) -> bool:
    return any("\ud800" <= character <= "\udfff" for character in text)
