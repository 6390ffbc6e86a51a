"""Files kept by content."""

import uuid

from django.db import models
from django.utils import timezone

from fleet.models.company import Company, Member
from fleet.models.site import Site


class StoredFile(models.Model):
    """One file at a site, served with authorisation and ``nosniff``. Personal data: the content itself, ``name``."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    site = models.ForeignKey(Site, null=True, on_delete=models.CASCADE, related_name="files")
    sha256 = models.CharField(max_length=64)
    storage_key = models.CharField(max_length=120)
    name = models.CharField(max_length=120)
    content_type = models.CharField(max_length=80)
    size = models.PositiveIntegerField()
    purpose = models.CharField(max_length=24, default="photo")
    stored_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    stored_at = models.DateTimeField(default=timezone.now)

    class Meta:
        indexes = [models.Index(fields=["company", "sha256"], name="file_by_content")]

    def __str__(self) -> str:
        return f"file {self.public_id}"
