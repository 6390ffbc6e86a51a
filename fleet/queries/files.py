"""Kept files: whether a member may see one, and its content."""

from uuid import UUID

from django.core.files.storage import default_storage

from fleet.models import Member, StoredFile
from fleet.queries.visibility import visible_sites


def visible_file(member: Member, public_id: UUID | str) -> StoredFile | None:
    """The file with this public id at a site that ``member`` may see."""
    files = StoredFile.objects.filter(company_id=member.company_id, public_id=public_id)
    return files.filter(site__in=visible_sites(member)).first()


def file_content(stored: StoredFile) -> bytes:
    """The bytes of a kept file. Raises FileNotFoundError where the storage lost it."""
    with default_storage.open(stored.storage_key) as opened:
        return bytes(opened.read())
