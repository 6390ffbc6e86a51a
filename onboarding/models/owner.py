"""Who owns a site, from one moment until another."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Company, Site


class Owner(models.Model):
    """A person or organisation. Personal data: ``name``, ``email``, ``phone``, ``postal_address``.

    ``account_by_letter`` says that the account was opened with a letter's code and the owner's mailbox, as the register
    knows it, has not confirmed it: answers given there are weak.

    Of an erased owner these are empty (``name`` a dash); ``address_mac``, the company's keyed hash of the address, is
    kept until ``kept_until``; ``mac_key`` names the key that it was made with.
    """

    class Kind(models.TextChoices):
        PERSON = "person", _("Person")
        ORGANISATION = "organisation", _("Organisation")

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="owners")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="owners"
    )
    kind = models.CharField(_("kind"), max_length=12, choices=Kind, default=Kind.PERSON)
    name = models.CharField(_("name"), max_length=120)
    email = models.CharField(_("e-mail address"), max_length=254, blank=True)
    phone = models.CharField(_("telephone"), max_length=40, blank=True)
    postal_address = models.CharField(_("postal address"), max_length=300, blank=True)
    language = models.CharField(_("language"), max_length=10, default="en")
    account_by_letter = models.BooleanField(default=False, db_default=False)
    erased_at = models.DateTimeField(null=True, blank=True)
    address_mac = models.CharField(max_length=64, blank=True)
    mac_key = models.CharField(max_length=16, blank=True)
    kept_until = models.DateTimeField(null=True, blank=True)
    created_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.UniqueConstraint("company", Lower("email"), condition=~Q(email=""), name="owner_email_once"),
            models.UniqueConstraint(
                fields=["company", "user"], condition=Q(user__isnull=False), name="owner_user_once_per_company"
            ),
        ]
        indexes = [models.Index(fields=["kept_until"], condition=~Q(address_mac=""), name="owner_to_forget")]

    def __str__(self) -> str:
        return f"owner {self.public_id}"


class Ownership(models.Model):
    """An owner at a site from one moment until another; at most one open row per site and owner."""

    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="ownerships")
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="ownerships")
    since = models.DateTimeField(default=timezone.now)
    until = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "owner"], condition=Q(until__isnull=True), name="ownership_open_once"
            ),
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=F("since")), name="ownership_ends_after_start"
            ),
        ]
        indexes = [models.Index(fields=["owner", "until"], name="ownership_by_owner")]

    def __str__(self) -> str:
        return f"ownership {self.pk}"
