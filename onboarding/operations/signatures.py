"""The files of an owner's signatures, found by what the ledger says of them."""

from functools import partial

from django.db import transaction

from fleet import kept_files
from fleet.models import StoredFile
from onboarding.ledger.chain import parsed
from onboarding.models import ConsentEntry, Evidence, Owner


def forget_signatures(owner: Owner) -> int:
    """Delete the files that the owner's entries rest on; the ledger keeps their digest. Returns how many.

    Within a transaction: the content goes once it has committed, unless another file has the same.
    """
    signed = ConsentEntry.objects.filter(owner=owner, evidence=Evidence.SIGNATURE)
    named = {(entry.site_id, parsed(entry.canonical)["file_sha256"]) for entry in signed}
    done = 0
    for site_id, digest in sorted(named):
        for file in StoredFile.objects.filter(company=owner.company_id, site=site_id, sha256=digest):
            file.delete()
            transaction.on_commit(partial(_forget_content, file.storage_key))
            done += 1
    return done


def _forget_content(key: str) -> None:
    if not StoredFile.objects.filter(storage_key=key).exists():
        kept_files.forget(key)
