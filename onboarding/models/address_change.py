"""Another address that somebody asked for: kept apart from the account until its mailbox answers."""

from django.conf import settings
from django.db import models
from django.utils import timezone


class AddressChange(models.Model):
    """One request. Personal data: ``before``, ``address``. Of both links only a SHA-256 is kept.

    ``address`` is good for nothing until ``confirmed_at``. Who reads mail to ``before`` may stop or take back the
    change; ``ended_at`` says that this was done, or that a later request took its place. Where both are equal, the
    address that the account has is only to be confirmed.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="address_changes")
    before = models.CharField(max_length=254)
    address = models.CharField(max_length=254)
    confirm_hash = models.CharField(max_length=64, unique=True)
    stop_hash = models.CharField(max_length=64, unique=True)
    asked_at = models.DateTimeField(default=timezone.now)
    confirmed_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"address change {self.pk}"
