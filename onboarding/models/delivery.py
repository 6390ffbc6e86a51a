"""One attempt to put one e-mail on the wire, whom not to write to, and what came back."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Company, Member, Site
from onboarding.models.invitation import Invitation
from onboarding.models.owner import Owner


class Stream(models.TextChoices):
    """What a mail is for; each has its own legal basis and its own need of permission."""

    INVITATION = "invitation", _("Invitation")
    REMINDER = "reminder", _("Reminder")
    ACCOUNT = "account", _("Account")
    RECEIPT = "receipt", _("Receipt")
    SAFETY = "safety", _("Safety")
    COURTESY = "courtesy", _("Courtesy")


class DeliveryState(models.TextChoices):
    """How far one delivery has come."""

    QUEUED = "queued", _("Queued")
    CLAIMED = "claimed", _("Claimed")
    TRANSMITTING = "transmitting", _("Transmitting")
    SENT = "sent", _("Sent")
    FAILED = "failed", _("Failed")
    UNKNOWN = "unknown", _("Not known whether it arrived")
    STOPPED = "stopped", _("Stopped before leaving")


class Delivery(models.Model):
    """One deliberate send. Personal data: ``to_address``, ``context``. ``message_id`` is unique in the database.

    ``address_mac`` is the company's keyed hash of the address, as in Suppression, made with the key ``mac_key``.
    ``claim`` names the sweep that holds the row until ``claimed_until``. ``reply_class`` says in one word what the last
    try came to (``mail/replies.py``). ``provider_id`` is a mail provider's own name for the mail, by which its reports
    may be matched too.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, null=True, on_delete=models.CASCADE, related_name="deliveries")
    invitation = models.ForeignKey(
        Invitation, null=True, blank=True, on_delete=models.CASCADE, related_name="deliveries"
    )
    owner = models.ForeignKey(Owner, null=True, blank=True, on_delete=models.SET_NULL, related_name="deliveries")
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    site = models.ForeignKey(Site, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    stream = models.CharField(max_length=10, choices=Stream)
    legal_basis = models.CharField(max_length=24)
    template = models.CharField(max_length=60)
    context = models.JSONField(default=dict)
    language = models.CharField(max_length=10, default="en")
    to_address = models.CharField(max_length=254)
    to_domain = models.CharField(max_length=253)
    address_mac = models.CharField(max_length=64, blank=True)
    mac_key = models.CharField(max_length=16, blank=True)
    send_number = models.PositiveIntegerField(default=1)
    message_id = models.CharField(max_length=200, unique=True)
    return_token = models.CharField(max_length=64, unique=True)
    state = models.CharField(max_length=12, choices=DeliveryState, default=DeliveryState.QUEUED)
    attempts = models.PositiveSmallIntegerField(default=0)
    not_before = models.DateTimeField(default=timezone.now)
    give_up_at = models.DateTimeField()
    claim = models.UUIDField(null=True, blank=True)
    claimed_until = models.DateTimeField(null=True, blank=True)
    created_at = models.DateTimeField(default=timezone.now)
    transmitting_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    reply_code = models.CharField(max_length=12, blank=True)
    reply_class = models.CharField(max_length=24, blank=True)
    provider_id = models.CharField(max_length=200, blank=True, db_default="")

    class Meta:
        verbose_name_plural = "deliveries"
        constraints = [
            models.UniqueConstraint(
                fields=["invitation", "send_number"],
                condition=Q(invitation__isnull=False),
                name="delivery_send_number_once",
            ),
            models.CheckConstraint(condition=Q(state__in=DeliveryState.values), name="delivery_state_known"),
        ]
        indexes = [
            models.Index(fields=["not_before", "id"], condition=Q(state="queued"), name="delivery_due"),
            models.Index(
                fields=["claimed_until"], condition=Q(state__in=["claimed", "transmitting"]), name="delivery_leased"
            ),
            models.Index(fields=["company", "state", "-id"], name="delivery_by_state"),
            models.Index(
                fields=["company", "transmitting_at"],
                condition=Q(transmitting_at__isnull=False),
                name="delivery_by_day",
            ),
            models.Index(fields=["provider_id"], condition=~Q(provider_id=""), name="delivery_at_provider"),
        ]

    def __str__(self) -> str:
        return f"delivery {self.public_id}"


class Suppression(models.Model):
    """An address that a company must not write to. ``address_mac`` is a keyed hash and outlives erasure.

    ``mailbox_mac`` is the hash of the address without what follows a plus sign: a person who does not want mail does
    not want it at another tag of the same mailbox either. ``mac_key`` is the id of the key that both were made with.
    """

    class Reason(models.TextChoices):
        UNSUBSCRIBED = "unsubscribed", _("One-click unsubscribe")
        BOUNCED = "bounced", _("The address refused mail for good")
        COMPLAINED = "complained", _("Marked as unwanted")
        NOT_ME = "not_me", _("Said that it is not theirs")
        BY_STAFF = "by_staff", _("Entered by staff")

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="suppressions")
    address_mac = models.CharField(max_length=64)
    address = models.CharField(max_length=254, blank=True)
    mailbox_mac = models.CharField(max_length=64, blank=True, db_index=True)
    mac_key = models.CharField(max_length=16, blank=True)
    reason = models.CharField(max_length=12, choices=Reason)
    since = models.DateTimeField(default=timezone.now)
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["company", "address_mac"], condition=Q(lifted_at__isnull=True), name="suppression_once"
            )
        ]

    def __str__(self) -> str:
        return f"suppression {self.public_id}"


class MailDomain(models.Model):
    """How mail to one receiving domain goes: the pace it is sent at, and the pause after it asked for one.

    ``free_at`` is the theoretical arrival time of the pace (generic cell rate algorithm, ITU-T I.371).
    """

    domain = models.CharField(max_length=253, primary_key=True)
    free_at = models.DateTimeField(default=timezone.now)
    paused_until = models.DateTimeField(default=timezone.now)
    refusals = models.PositiveSmallIntegerField(default=0)

    def __str__(self) -> str:
        return self.domain


class MailReport(models.Model):
    """One bounce, complaint or auto-reply that came in; unmatched ones are the operator's to see, never a company's."""

    digest = models.CharField(max_length=64, unique=True)
    kind = models.CharField(max_length=12)
    outcomes = models.JSONField(default=list)
    facts = models.JSONField(default=dict)
    delivery = models.ForeignKey(Delivery, null=True, on_delete=models.CASCADE, related_name="reports")
    received_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"report {self.pk}"
