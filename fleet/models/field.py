"""What the field page sent beside scans, told apart by the UUID that the phone gave each record."""

from django.db import models
from django.utils import timezone

from fleet.models.company import Company, Member
from fleet.models.site import Site


class FieldRecord(models.Model):
    """One record of a kind other than ``scan``, taken once. Never edited.

    ``fingerprint`` is a keyed hash of the record's content; ``answer`` is what the phone was told, word for word. The
    content itself stands where its act put it (a check, a consent entry, a file, a sighting), not here. ``made_at`` is
    by the phone's clock, ``skew`` how far that was behind the server's when the two were compared.
    """

    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="field_records")
    client_id = models.UUIDField()
    kind = models.CharField(max_length=12)
    fingerprint = models.CharField(max_length=64)
    seq = models.BigIntegerField(default=0)
    installation = models.UUIDField(null=True, blank=True)
    member = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="field_records")
    site = models.ForeignKey(Site, null=True, blank=True, on_delete=models.PROTECT, related_name="field_records")
    made_at = models.DateTimeField()
    skew = models.DurationField(null=True, blank=True)
    received_at = models.DateTimeField(default=timezone.now)
    answer = models.JSONField(default=dict)
    from_emergency_file = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["company", "client_id"], name="field_record_client_id_once")]

    def __str__(self) -> str:
        return f"field record {self.client_id}"
