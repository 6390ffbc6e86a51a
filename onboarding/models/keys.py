"""Which keys the database rests on, by their fingerprints."""

from django.db import models
from django.db.models import Q
from django.utils import timezone

from fleet.keys import LEDGER


class KeyFingerprint(models.Model):
    """A key that rows here were made with. One for the ledger; as many for addresses as rows still need."""

    use = models.CharField(max_length=8)
    key = models.CharField(max_length=16)
    since = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["use", "key"], name="key_once"),
            models.UniqueConstraint(fields=["use"], condition=Q(use=LEDGER), name="key_of_ledger_once"),
        ]

    def __str__(self) -> str:
        return f"{self.use} key {self.key}"
