"""Kept files: whether a member may see one, and its content."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import timedelta
from uuid import UUID

from django.utils import timezone

from fleet import kept_files
from fleet.models import Member, StoredFile
from fleet.queries.visibility import visible_sites


def visible_file(member: Member, public_id: UUID | str) -> StoredFile | None:
    """The file with this public id at a site that ``member`` may see."""
    files = StoredFile.objects.filter(company_id=member.company_id, public_id=public_id)
    return files.filter(site__in=visible_sites(member)).first()


def file_content(stored: StoredFile) -> bytes:
    """The bytes of a kept file. Raises FileGone where the storage lost or changed it."""
    return kept_files.content_of(stored.storage_key, size=stored.size, sha256=stored.sha256)


@dataclass(frozen=True, slots=True)
class FileFault:
    """One kept file that is not as it should be: ``missing``, ``short``, ``altered``, or ``orphaned`` (in the folder,
    and in no row).
    """

    what: str
    key: str

    @property
    def is_loss(self) -> bool:
        """Whether something that was promised to be kept is not."""
        return self.what != "orphaned"


JUST_COMING = timedelta(hours=1)
"""A file lies in the folder before the row that names it commits."""


def file_faults() -> Iterator[FileFault]:
    """Every kept file compared with its row, and every file in the folder looked up among the rows."""
    named = set()
    rows = StoredFile.objects.order_by("storage_key").values_list("storage_key", "size", "sha256").distinct()
    for key, size, sha256 in rows.iterator(chunk_size=2000):
        named.add(key)
        if what := kept_files.fault_of(key, size=size, sha256=sha256):
            yield FileFault(what, key)
    settled = timezone.now() - JUST_COMING
    for found in kept_files.all_kept():
        if found.key not in named and found.changed_at < settled:
            yield FileFault("orphaned", found.key)
