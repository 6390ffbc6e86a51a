"""What hangs on the ledger's entries and may be taken away or not: personal values, and the files of signatures."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from django.utils import timezone

from fleet.kept_files import fault_of
from fleet.models import AuditEntry, Company, StoredFile
from onboarding.ledger.chain import broken_commitments
from onboarding.models import ConsentDetail, ConsentEntry

ORIGINS_KEPT = timedelta(days=90)
"""How long it is kept from where an answer came; the ledger verifies without."""

ORIGINS = ("origin", "session")


@dataclass
class EvidenceCheck:
    """Compares details with the erasures of their people, and files with what entries say of them, for one company."""

    company: Company
    _erased: set[str] = field(init=False)
    _files: dict[tuple[int, str], str] = field(init=False)

    def __post_init__(self) -> None:
        told = AuditEntry.objects.filter(company=self.company, act="erase_owner", object_type="owner")
        self._erased = set(told.values_list("object_id", flat=True))
        self._files = {}

    def wrong_with(self, entry: ConsentEntry, document: dict[str, Any]) -> Iterator[str]:
        """What does not fit; reads the entry's detail and owner."""
        detail = getattr(entry, "detail", None)
        if detail is None:
            yield "its detail row is gone"
        else:
            broken = broken_commitments(document["committed"], detail.values, detail.erased)
            if broken:
                yield f"its personal values differ from what was recorded: {', '.join(broken)}"
            yield from self._erasure(entry, detail)
        if digest := document["file_sha256"]:
            yield from self._file(entry, digest)

    def _erasure(self, entry: ConsentEntry, detail: ConsentDetail) -> Iterator[str]:
        told = str(entry.owner.public_id) in self._erased
        if told != (entry.owner.erased_at is not None):
            yield "whether its person was erased differs from what the audit tells"
        elif told and detail.values:
            yield f"its personal values are kept although its person was erased: {', '.join(sorted(detail.values))}"
        elif not told and (gone := self._gone_without_reason(entry, detail)):
            yield f"its personal values are gone although its person was not erased: {', '.join(gone)}"

    def _gone_without_reason(self, entry: ConsentEntry, detail: ConsentDetail) -> list[str]:
        old = entry.at < timezone.now() - ORIGINS_KEPT
        return sorted(name for name in set(detail.erased) if not (old and name in ORIGINS))

    def _file(self, entry: ConsentEntry, digest: str) -> Iterator[str]:
        key = (entry.site_id, digest)
        if key not in self._files:
            self._files[key] = _state_of_file(self.company, *key)
        state = self._files[key]
        if state == "missing" and entry.owner.erased_at is None:
            yield "the file of its signature is missing"
        elif state and state != "missing":
            yield "the file of its signature is not the one that was signed"


def _state_of_file(company: Company, site_id: int, digest: str) -> str:
    """``missing``, or what is wrong with the file; empty where it is the one that was signed. Its content is read."""
    file = StoredFile.objects.filter(company=company, site=site_id, sha256=digest).first()
    return fault_of(file.storage_key, size=file.size, sha256=digest) if file else "missing"
