"""What a phone, the office or a program hands in for one label, and its proof of sameness."""

import hashlib
import hmac
import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from uuid import UUID

from django.utils import timezone

from fleet.keys import ledger_key
from fleet.labels.decode import decode_label
from fleet.labels.families import family_of
from fleet.labels.payload import GS1_CARRIERS, GTIN_CARRIERS
from fleet.labels.reading import Reading, Refusal
from fleet.labels.secrets import WITHHELD, withhold
from fleet.labels.sitecode import parse_site_code
from fleet.models import Company, Member
from fleet.queries.decoding import decode_options

SOURCES = ("camera", "photo", "typed", "api")


@dataclass(frozen=True, kw_only=True)
class Capture:
    """One captured label, without its secrets: they are replaced as it is made.

    ``raw`` and ``format`` (symbology identifier, may be empty) are its first code's; ``more`` holds further codes of
    the same label. ``meant_device`` is the person's choice where several devices may be meant; ``another_unit`` says
    that the person saw them and it is none of them. ``scanned_at`` is by the reader's clock, ``skew`` how far that
    clock was behind the server's, where it was compared.
    """

    id: UUID
    site_code: str
    raw: str
    scanned_at: datetime
    format: str = ""
    source: str = "typed"
    more: tuple[tuple[str, str], ...] = ()
    seq: int = 0
    installation: UUID | None = None
    confirmed: bool = False
    meant_device: UUID | None = None
    another_unit: bool = False
    from_emergency_file: bool = False
    skew: timedelta | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "raw", without_secrets(self.raw, self.format))
        more = tuple((without_secrets(raw, symbology), symbology) for raw, symbology in self.more)
        object.__setattr__(self, "more", more)

    @property
    def happened_at(self) -> datetime:
        """When it was read, by the server's clock as far as the reader's was compared with it."""
        return self.scanned_at if self.skew is None else min(self.scanned_at + self.skew, timezone.now())

    @property
    def codes(self) -> tuple[tuple[str, str], ...]:
        """All codes of the label, as payload and symbology identifier."""
        return ((self.raw, self.format), *self.more)


def fingerprint(capture: Capture, member: Member) -> str:
    """The keyed hash of a record's content: the same record repeated has the same, any other content another.

    Content is id, seq, installation, user, site, raw, format, source and scanned_at (design section 5); a repeat with
    another ``confirmed`` is the same record, so a confirmation is a record of its own.

    Keyed, because a payload may be a Wi-Fi password, of which no guessable hash may be kept.
    """
    content = [
        str(capture.id),
        capture.seq,
        str(capture.installation or ""),
        str(member.user_id),
        parse_site_code(capture.site_code) or capture.site_code,
        [list(code) for code in capture.codes],
        capture.source,
        capture.scanned_at.astimezone(UTC).isoformat(),
    ]
    return keyed_hash("capture", json.dumps(content, ensure_ascii=False, separators=(",", ":")))


def keyed_hash(use: str, text: str) -> str:
    """HMAC-SHA-256 of ``text`` for one use, with a key kept outside the database; hexadecimal."""
    key = hashlib.sha256(f"{use}:{ledger_key()}".encode()).digest()
    return hmac.new(key, text.encode("utf-8", "surrogatepass"), hashlib.sha256).hexdigest()


def is_secret(raw: str) -> bool:
    """Whether a payload belongs to a family that is kept nowhere, such as Wi-Fi passwords and contact cards."""
    return family_of(raw) is not None


def without_secrets(raw: str, symbology: str = "") -> str:
    """A payload with each password in it replaced by a keyed hash; what no word announces cannot be known."""
    if symbology in GS1_CARRIERS or symbology in GTIN_CARRIERS:
        return raw  # element strings have no words, and a serial may look like one
    return withhold(raw, lambda secret: f"{WITHHELD}-{keyed_hash('secret', secret)[:16]}")


def read_codes(company: Company, codes: tuple[tuple[str, str], ...]) -> Reading | Refusal:
    """What the company's decoder understands of one label's codes."""
    return decode_label([(raw, symbology or None) for raw, symbology in codes], options=decode_options(company))
