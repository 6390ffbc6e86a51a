"""What owners tell of the sale of their house."""

import uuid

from django.db import models
from django.db.models import Q
from django.utils import timezone

from fleet.models import Company, Member
from onboarding.models.owner import Ownership


class SaleReport(models.Model):
    """An owner told that they sold the house; open until they take it back or the office has acted on it."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="+")
    ownership = models.ForeignKey(Ownership, on_delete=models.CASCADE, related_name="sale_reports")
    sold_on = models.DateField()
    told_at = models.DateTimeField(default=timezone.now)
    taken_back_at = models.DateTimeField(null=True, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(Member, null=True, blank=True, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["ownership"],
                condition=Q(taken_back_at__isnull=True, settled_at__isnull=True),
                name="sale_report_open_once",
            ),
            models.CheckConstraint(
                condition=Q(taken_back_at__isnull=True) | Q(settled_at__isnull=True), name="sale_report_ends_one_way"
            ),
        ]
        indexes = [
            models.Index(
                fields=["company", "told_at"],
                condition=Q(taken_back_at__isnull=True, settled_at__isnull=True),
                name="sale_report_open",
            )
        ]

    def __str__(self) -> str:
        return f"sale report {self.public_id}"
