"""Keeping a file at a site, by its content."""

import hashlib

from django.conf import settings
from django.db import transaction
from django.template.defaultfilters import filesizeformat
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from fleet import kept_files
from fleet.full_disk import is_full
from fleet.models import Member, Site, StoredFile
from fleet.operations.audit import record_act
from fleet.operations.permissions import Act
from fleet.operations.refusals import BadInput, Unable
from fleet.operations.rollback import unchanged_if_refused
from fleet.operations.site_guard import refuse_retired, require_at

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
    sentence = gettext_lazy("Only JPEG, PNG, WebP and PDF files are kept. The file was not stored.")


class NoRoom(Unable):
    """The disk is full. Nothing of the file was left behind."""

    code = "no_room"
    status = 507
    sentence = gettext_lazy(
        "There is no room left on this installation’s disk, so the file was not kept; all that was kept before is "
        "still there. Keep your copy and send it again later. Whoever runs the installation has to make room."
    )


class FileTooLarge(BadFile):
    """The file is larger than ROOFTALLY_UPLOAD_MAX_BYTES."""

    code = "file_too_large"


def refuse_too_large(size: int) -> None:
    """Raise FileTooLarge for a file that is never kept, before anybody reads it."""
    if size > settings.UPLOAD_MAX_BYTES:
        raise FileTooLarge(
            _("This file has %(size)s; at most %(most)s are kept. The file was not stored.")
            % {"size": filesizeformat(size), "most": filesizeformat(settings.UPLOAD_MAX_BYTES)}
        )


@unchanged_if_refused
def store_file(
    *, actor: Member, site: Site, name: str, content: bytes, content_type: str, purpose: str = "photo"
) -> StoredFile:
    """Keep ``content`` at the site; the same content twice at one site is one file.

    Answered, it is whole and on the disk, also where it was there before.
    Raises BadFile, FileTooLarge, UnknownSite, SiteRetired or NoRoom.
    """
    require_at(actor, Act.EDIT_SITE, site)
    refuse_too_large(len(content))
    starts = KINDS.get(content_type, ())
    if not content.startswith(starts or (b"\x00nothing",)) or purpose not in PURPOSES:
        raise BadFile
    digest = hashlib.sha256(content).hexdigest()
    key = f"{actor.company.public_id}/{digest[:2]}/{digest}"
    _keep(key, content)
    with transaction.atomic():
        refuse_retired(site)
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
