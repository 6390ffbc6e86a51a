"""The tenant, its people, and what its policy says."""

import uuid

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


class Role(models.TextChoices):
    """What a member may do; the table of acts is in DEVELOPERS.md."""

    ADMINISTRATOR = "administrator", _("Administrator")
    OFFICE = "office", _("Office")
    FIELD = "field", _("Field")


class Company(models.Model):
    """An installer company: nothing crosses from one to another."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    name = models.CharField(_("name"), max_length=120)
    reply_email = models.EmailField(_("reply address"), max_length=254, blank=True)
    phone = models.CharField(_("telephone"), max_length=40, blank=True)
    phone_hours = models.CharField(_("when the telephone is answered"), max_length=80, blank=True)
    address = models.CharField(_("postal address"), max_length=300, blank=True)
    country = models.CharField(_("country"), max_length=2, default="PT")
    created_at = models.DateTimeField(default=timezone.now)

    class Meta:
        verbose_name_plural = "companies"

    def __str__(self) -> str:
        return self.name


class FieldSight(models.TextChoices):
    """Which sites field members see."""

    ALL = "all", _("All sites")
    ASSIGNED = "assigned", _("Assigned sites, and for 30 days those they stood at")


class CompanyPolicy(models.Model):
    """One row per company: what its administrators decided."""

    company = models.OneToOneField(Company, on_delete=models.CASCADE, related_name="policy")
    field_sight = models.CharField(max_length=10, choices=FieldSight, default=FieldSight.ASSIGNED)
    ready_before_invite = models.BooleanField(_("invite only when every handover check is done"), default=False)
    retention_months = models.PositiveSmallIntegerField(
        _("months that evidence is kept after a site is retired"), default=120
    )
    quiet_from = models.TimeField(_("no invitations from"), null=True, blank=True)
    quiet_until = models.TimeField(_("no invitations until"), null=True, blank=True)
    daily_mail_limit = models.PositiveIntegerField(_("mails a day at most"), default=2000)
    invitation_days = models.PositiveSmallIntegerField(_("days that an invitation lasts"), default=30)
    first_reminder_days = models.PositiveSmallIntegerField(default=5)
    second_reminder_days = models.PositiveSmallIntegerField(default=14)
    languages = models.JSONField(default=list, blank=True)
    default_time_zone = models.CharField(max_length=64, default="Europe/Lisbon")

    def __str__(self) -> str:
        return f"policy of {self.company_id}"


class Member(models.Model):
    """A person working for a company; every request of staff has exactly one acting membership.

    ``site_columns``: the columns of the list of sites that they chose, a space between; empty for the usual ones.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="members")
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(_("role"), max_length=15, choices=Role)
    active = models.BooleanField(default=True)
    joined_at = models.DateTimeField(default=timezone.now)
    deactivated_at = models.DateTimeField(null=True, blank=True)
    site_columns = models.CharField(max_length=200, blank=True, default="", db_default="")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["company", "user"], name="member_once_per_company"),
            models.CheckConstraint(condition=Q(role__in=Role.values), name="member_role_known"),
            models.CheckConstraint(
                condition=Q(active=True) ^ Q(deactivated_at__isnull=False), name="member_active_or_ended"
            ),
        ]

    def __str__(self) -> str:
        return f"member {self.public_id}"

    @property
    def is_administrator(self) -> bool:
        """Whether this member administers the company."""
        return self.role == Role.ADMINISTRATOR

    @property
    def is_field(self) -> bool:
        """Whether this member works in the field, seeing sites by policy."""
        return self.role == Role.FIELD


class Assignment(models.Model):
    """A member is expected at a site until a day (inclusive) or for good."""

    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="assignments")
    site = models.ForeignKey("fleet.Site", on_delete=models.CASCADE, related_name="assignments")
    since = models.DateTimeField(default=timezone.now)
    until = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["member", "site"], name="assignment_once")]

    def __str__(self) -> str:
        return f"assignment {self.pk}"
