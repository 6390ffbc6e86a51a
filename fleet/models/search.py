"""The search index: what each site is found by, and which sites must be looked at again.

The clustered tables beside these (tokens, vocabulary, deletion variants) are declared in :mod:`fleet.search.tables`.
None of them has a foreign key: a site that vanishes by any path leaves a mark, and the sweep clears its entries.
"""

from django.db import models
from django.utils import timezone


class SearchDocument(models.Model):
    """All tokens of a site and the texts they came from. Personal data: every text column.

    ``tokens`` and ``past_tokens`` begin, end and are separated with a line feed; ``shown`` has one text per line, after
    its field and a mark for what is past. ``edition`` is the edition of the folding that wrote it.
    """

    site_id = models.BigIntegerField(primary_key=True)
    company_id = models.BigIntegerField()
    edition = models.PositiveSmallIntegerField()
    tokens = models.TextField()
    past_tokens = models.TextField(blank=True)
    shown = models.TextField(blank=True)

    def __str__(self) -> str:
        return f"search document of {self.site_id}"


class SearchMark(models.Model):
    """A site whose rows changed since it was indexed; written by triggers alone, cleared by reindexing."""

    site_id = models.BigIntegerField(db_index=True)

    def __str__(self) -> str:
        return f"search mark of {self.site_id}"


class SearchRebuild(models.Model):
    """How far a rebuild of the index has come; an unfinished one is taken up again."""

    edition = models.PositiveSmallIntegerField()
    done_up_to = models.BigIntegerField(default=0)
    sites_done = models.PositiveBigIntegerField(default=0)
    started_at = models.DateTimeField(default=timezone.now)
    finished_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"rebuild of edition {self.edition} up to {self.done_up_to}"
