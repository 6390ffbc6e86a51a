"""How people and programs get in: member invitations, API tokens, and answers kept for repeated requests."""

import uuid

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models.company import Company, Member, Role


class MemberInvitation(models.Model):
    """The offer to become a member. Personal data: ``email``, ``name``. Only a SHA-256 of the token is kept."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="member_invitations")
    email = models.EmailField(_("e-mail address"), max_length=254)
    name = models.CharField(_("name"), max_length=120, blank=True)
    role = models.CharField(_("role"), max_length=15, choices=Role)
    token_hash = models.CharField(max_length=64, unique=True)
    invited_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    created_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField()
    accepted_at = models.DateTimeField(null=True, blank=True)
    cancelled_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                "company",
                models.functions.Lower("email"),
                condition=Q(accepted_at__isnull=True, cancelled_at__isnull=True),
                name="member_invitation_open_once",
            )
        ]

    def __str__(self) -> str:
        return f"member invitation {self.public_id}"


class Scope(models.TextChoices):
    """What a token may be used for, within what its member may do."""

    SITES_READ = "sites:read", _("Read sites and devices")
    SITES_WRITE = "sites:write", _("Register and edit sites")
    CATALOGUE_WRITE = "catalogue:write", _("Change the catalogue")
    SCANS_WRITE = "scans:write", _("Scan labels")
    CONSENTS_WRITE = "consents:write", _("Record permissions")
    INVITATIONS_WRITE = "invitations:write", _("Invite owners")


class ApiToken(models.Model):
    """A token by which a program acts as one member. Only its SHA-256 is kept; the token itself is shown once."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="tokens")
    name = models.CharField(_("what it is for"), max_length=80)
    token_hash = models.CharField(max_length=64, unique=True)
    scopes = models.JSONField(default=list)
    created_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField(null=True, blank=True)
    last_used_on = models.DateField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"token {self.public_id}"


class IdempotencyRecord(models.Model):
    """The answer given to one ``Idempotency-Key`` of one member, kept so that a repeated request gets it again."""

    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    member = models.ForeignKey(Member, on_delete=models.CASCADE)
    key = models.CharField(max_length=255)
    fingerprint = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField(null=True)
    body = models.JSONField(null=True)
    created_at = models.DateTimeField(default=timezone.now, db_index=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["member", "key"], name="idempotency_key_once")]

    def __str__(self) -> str:
        return f"idempotency {self.pk}"
