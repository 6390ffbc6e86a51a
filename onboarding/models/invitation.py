"""The offer to an owner to open an account for a site, and its timeline."""

import uuid

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models import Company, Member, Site
from onboarding.models.owner import Owner


class InvitationState(models.TextChoices):
    """The states of section 9 of the design."""

    DRAFT = "draft", _("Draft")
    HELD = "held", _("Held")
    QUEUED = "queued", _("Queued")
    SENT = "sent", _("Sent")
    OPENED = "opened", _("Opened")
    ACCEPTED = "accepted", _("Accepted")
    BOUNCED = "bounced", _("Bounced")
    COMPLAINED = "complained", _("Complained")
    FAILED = "failed", _("Failed")
    EXPIRED = "expired", _("Expired")
    CANCELLED = "cancelled", _("Cancelled")
    REPLACED = "replaced", _("Replaced")


OPEN_STATES = ("draft", "held", "queued", "sent", "opened")


class HeldReason(models.TextChoices):
    """Why an invitation is held."""

    NO_CONSENT = "no_consent", _("No permission to write")
    OPTED_OUT = "opted_out", _("The owner opted out")
    BAD_ADDRESS = "bad_address", _("The address cannot be used")
    NO_ADDRESS = "no_address", _("No e-mail address is known")
    NOT_READY = "not_ready", _("Handover checks are still open")
    RAN_OUT = "ran_out", _("The permission to write ran out")
    LEDGER_DIFFERS = "ledger_differs", _("The ledger does not bear the permission out")


class InvitationBatch(models.Model):
    """One press that invited several owners: until their mails leave, it can be taken back."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    made_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    leaves_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"batch {self.public_id}"


class Invitation(models.Model):
    """One invitation; at most one open per site and owner. Its links stand in InvitationLink."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="invitations")
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="invitations")
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="invitations")
    state = models.CharField(max_length=10, choices=InvitationState, default=InvitationState.DRAFT)
    held_reason = models.CharField(max_length=16, choices=HeldReason, blank=True)
    send_number = models.PositiveIntegerField(default=0)
    batch = models.ForeignKey(
        InvitationBatch, null=True, blank=True, on_delete=models.SET_NULL, related_name="invitations"
    )
    expires_at = models.DateTimeField(null=True, blank=True)
    reminders = models.PositiveSmallIntegerField(default=0)
    invited_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    created_at = models.DateTimeField(default=timezone.now)
    sent_at = models.DateTimeField(null=True, blank=True)
    opened_at = models.DateTimeField(null=True, blank=True)
    accepted_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["site", "owner"], condition=Q(state__in=OPEN_STATES), name="invitation_open_once"
            ),
            models.CheckConstraint(condition=Q(state__in=InvitationState.values), name="invitation_state_known"),
            models.CheckConstraint(condition=Q(state="held") ^ Q(held_reason=""), name="invitation_held_says_why"),
        ]
        indexes = [
            models.Index(fields=["company", "state", "-id"], name="invitation_by_state"),
            models.Index(fields=["state", "expires_at"], name="invitation_by_expiry"),
        ]

    def __str__(self) -> str:
        return f"invitation {self.public_id}"


class InvitationLink(models.Model):
    """One way into an invitation: the link of one mail, or the code of one letter. Kept as SHA-256 only.

    ``made_by`` is who printed a letter. A link is good while ``ended_at`` is empty and the invitation is open; a
    deliberate resend ends the earlier ones.
    """

    class Kind(models.TextChoices):
        MAIL = "mail", _("Link in a mail")
        LETTER = "letter", _("Code in a letter")

    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    invitation = models.ForeignKey(Invitation, on_delete=models.CASCADE, related_name="links")
    kind = models.CharField(max_length=6, choices=Kind, default=Kind.MAIL)
    send_number = models.PositiveIntegerField()
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField(default=timezone.now)
    made_by = models.ForeignKey(Member, null=True, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"link {self.pk}"


class InvitationEvent(models.Model):
    """One line of an invitation's timeline."""

    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    invitation = models.ForeignKey(Invitation, on_delete=models.CASCADE, related_name="events")
    at = models.DateTimeField(default=timezone.now)
    what = models.CharField(max_length=32)
    member = models.ForeignKey(Member, null=True, on_delete=models.PROTECT, related_name="+")
    facts = models.JSONField(default=dict, blank=True)

    class Meta:
        indexes = [models.Index(fields=["invitation", "id"], name="invitation_timeline")]

    def __str__(self) -> str:
        return self.what
