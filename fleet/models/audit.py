"""Who did what: append-only entries with ids, and erasable details with personal values."""

import uuid

from django.conf import settings
from django.db import models
from django.utils import timezone

from fleet.models.company import Company, Member
from fleet.models.site import Site


class AuditEntry(models.Model):
    """One act of a person (or of the system, where ``user`` is empty). Holds ids and roles only."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    at = models.DateTimeField(default=timezone.now)
    act = models.CharField(max_length=48)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, null=True, on_delete=models.PROTECT, related_name="+")
    member = models.ForeignKey(Member, null=True, on_delete=models.PROTECT, related_name="+")
    role = models.CharField(max_length=15, blank=True)
    site = models.ForeignKey(Site, null=True, on_delete=models.CASCADE, related_name="audit")
    object_type = models.CharField(max_length=32)
    object_id = models.CharField(max_length=64)

    class Meta:
        indexes = [
            models.Index(fields=["site", "-id"], name="audit_by_site"),
            models.Index(fields=["company", "-id"], name="audit_by_company"),
        ]

    def __str__(self) -> str:
        return f"audit {self.public_id}"


class AuditDetail(models.Model):
    """The personal part of an entry: before and after, and from where. Erasable."""

    entry = models.OneToOneField(AuditEntry, primary_key=True, on_delete=models.CASCADE, related_name="detail")
    before = models.JSONField(default=dict, blank=True)
    after = models.JSONField(default=dict, blank=True)
    origin = models.CharField(max_length=64, blank=True)
    erased_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"detail of {self.entry_id}"
