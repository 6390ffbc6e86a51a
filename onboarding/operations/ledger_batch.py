"""Writes many lines of one company's consent ledger at once, for owners about whom nothing was recorded before."""

from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from fleet.models import Company
from onboarding.models import ConsentEntry, ConsentStanding
from onboarding.operations.ledger import Line, lock_head, write_entries
from onboarding.queries.derived_standing import standing_of_entry


@transaction.atomic
def append_first_words(company: Company, lines: Sequence[Line]) -> list[ConsentEntry]:
    """Add ``lines``, in order of their time, to the chain with their standings; answers the entries.

    Each line is the first about its site, owner and purpose: the database refuses a second standing with
    IntegrityError. Reindexing the sites is left to the caller.
    """
    now = timezone.now()
    entries = write_entries(lock_head(company), sorted(lines, key=lambda line: line.at or now))
    ConsentStanding.objects.bulk_create([standing_of_entry(entry) for entry in entries])
    return entries
