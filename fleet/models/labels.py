"""What a company taught the decoder."""

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models.company import Company, Member


class LinkDomain(models.Model):
    """A domain whose links identify devices (IEC 61406-1); links are read, never fetched."""

    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="link_domains")
    domain = models.CharField(_("domain"), max_length=253)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["company", "domain"], name="link_domain_once")]

    def __str__(self) -> str:
        return self.domain


class LabelForm(models.Model):
    """A label form of a company's own: a pattern with named parts, and the examples that keep it honest."""

    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="label_forms")
    name = models.CharField(_("name"), max_length=60)
    pattern = models.CharField(_("pattern"), max_length=500)
    examples = models.JSONField(default=list)
    counter_examples = models.JSONField(default=list)
    active = models.BooleanField(default=True)
    created_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    created_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.UniqueConstraint("company", models.functions.Lower("name"), name="label_form_once_per_company"),
        ]

    def __str__(self) -> str:
        return self.name
