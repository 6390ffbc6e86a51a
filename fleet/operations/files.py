"""Keeping a file at a site, by its content."""

import hashlib

from django.db import transaction
from django.utils.translation import gettext_lazy as _

from fleet import kept_files
from fleet.full_disk import is_full
from fleet.models import Member, Site, StoredFile
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act, require
from fleet.operations.refusals import BadInput, Unable
from fleet.operations.sites import UnknownSite
from fleet.queries.visibility import may_see

KINDS = {
    "image/jpeg": (b"\xff\xd8\xff",),
    "image/png": (b"\x89PNG\r\n\x1a\n",),
    "image/webp": (b"RIFF",),
    "application/pdf": (b"%PDF-",),
}
PURPOSES = ("photo", "label", "signature", "document")


class BadFile(BadInput):
    """The file is empty, too large, or not of a kind that is kept."""

    code = "bad_file"
    sentence = _("Only JPEG, PNG, WebP and PDF files are kept, of at most 12 MB. The file was not stored.")


class NoRoom(Unable):
    """The disk is full. Nothing of the file was left behind."""

    code = "no_room"
    status = 507
    sentence = _(
        "There is no room left on this installation’s disk, so the file was not kept; all that was kept before is "
        "still there. Keep your copy and send it again later. Whoever runs the installation has to make room."
    )


def store_file(
    *, actor: Member, site: Site, name: str, content: bytes, content_type: str, purpose: str = "photo"
) -> StoredFile:
    """Keep ``content`` at the site; the same content twice at one site is one file.

    Raises BadFile, UnknownSite or NoRoom. Answered, it is whole and on the disk, also where it was there before.
    """
    require(actor, Act.EDIT_SITE)
    if not may_see(actor, site):
        raise UnknownSite
    starts = KINDS.get(content_type, ())
    if not content.startswith(starts or (b"\x00nothing",)) or len(content) > 12_000_000 or purpose not in PURPOSES:
        raise BadFile
    digest = hashlib.sha256(content).hexdigest()
    key = f"{actor.company.public_id}/{digest[:2]}/{digest}"
    _keep(key, content)
    with transaction.atomic():
        known = StoredFile.objects.filter(company=actor.company, site=site, sha256=digest).first()
        if known is not None:
            return known
        stored = StoredFile.objects.create(
            company=actor.company, site=site, sha256=digest, storage_key=key, name=name.strip()[:120] or digest[:12],
            content_type=content_type, size=len(content), purpose=purpose, stored_by=actor,
        )  # fmt: skip
        record_act(
            act="store_file", company=actor.company, about=stored, actor=actor, site=site,
            after={"sha256": digest, "size": len(content), "purpose": purpose},
        )  # fmt: skip
    return stored


def _keep(key: str, content: bytes) -> None:
    try:
        kept_files.keep(key, content)
    except OSError as error:
        if is_full(error):
            raise NoRoom from error
        raise
