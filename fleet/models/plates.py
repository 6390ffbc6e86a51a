"""The plates that were printed for sites."""

from django.db import models
from django.utils import timezone

from fleet.models.company import Company, Member
from fleet.models.site import Site


class PrintedPlate(models.Model):
    """A plate with this code was printed, so whoever scans it may read who looks after the system."""

    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="+")
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="plates")
    code = models.CharField(max_length=8, unique=True)
    printed_by = models.ForeignKey(Member, on_delete=models.PROTECT, related_name="+")
    printed_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"plate {self.pk}"
