"""One physical unit, and where it has stood."""

import uuid

from django.db import models
from django.db.models import F, Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models.catalogue import DeviceModel, Kind
from fleet.models.company import Company, Member
from fleet.models.site import Site


class Device(models.Model):
    """One unit, unique on (company, issuer scheme, issuer, what it is numbered within, serial, twin).

    A serial whose issuer is unknown has an empty issuer and counts within its part number or taught form
    (``numbered_within``, see :class:`fleet.labels.reading.Identity`). Where a person said that two units bear the same
    identity, ``twin`` counts them from 0. ``serial`` is verbatim; ``serial_folded`` is for search and "did you mean".
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="devices")
    model = models.ForeignKey(DeviceModel, null=True, blank=True, on_delete=models.PROTECT, related_name="devices")
    kind = models.CharField(_("kind"), max_length=16, choices=Kind, default=Kind.OTHER)
    issuer_scheme = models.CharField(max_length=16, blank=True)
    issuer = models.CharField(max_length=253, blank=True)
    numbered_within = models.CharField(max_length=253, blank=True, default="", db_default="")
    twin = models.PositiveSmallIntegerField(default=0, db_default=0)
    serial = models.CharField(_("serial number"), max_length=253)
    serial_folded = models.CharField(max_length=253, editable=False)
    gtin = models.CharField(max_length=14, blank=True)
    part_number = models.CharField(max_length=80, blank=True)
    batch = models.CharField(max_length=40, blank=True)
    produced_on = models.DateField(null=True, blank=True)
    mac = models.CharField(max_length=12, blank=True)
    manufacturer_code = models.CharField(max_length=260, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)
    created_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["company", "issuer_scheme", "issuer", "numbered_within", "serial", "twin"],
                name="device_identity_once",
            ),
            models.CheckConstraint(condition=Q(kind__in=Kind.values), name="device_kind_known"),
            models.CheckConstraint(condition=~Q(serial=""), name="device_serial_there"),
        ]
        indexes = [
            models.Index(fields=["company", "serial"], name="device_by_serial"),
            models.Index(fields=["company", "serial_folded"], name="device_by_folded_serial"),
            models.Index(fields=["company", "model"], name="device_by_model"),
            models.Index(fields=["company", "kind"], name="device_by_kind"),
        ]

    def __str__(self) -> str:
        return self.serial


class Placement(models.Model):
    """A device at a site from one moment until another; a device has at most one open placement."""

    class Ended(models.TextChoices):
        SWAPPED = "swapped", _("Swapped")
        MOVED = "moved", _("Moved")
        RETIRED = "retired", _("Retired")
        UNDONE = "undone", _("Undone")

    class BusRole(models.TextChoices):
        NONE = "", _("Alone")
        LEADS = "leads", _("Leads")
        FOLLOWS = "follows", _("Follows")

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    device = models.ForeignKey(Device, on_delete=models.PROTECT, related_name="placements")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="placements")
    since = models.DateTimeField()
    until = models.DateTimeField(null=True, blank=True)
    ended = models.CharField(max_length=8, choices=Ended, blank=True)
    replaces = models.OneToOneField("self", null=True, blank=True, on_delete=models.PROTECT, related_name="replaced_by")
    bus_role = models.CharField(_("among several inverters"), max_length=8, choices=BusRole, blank=True, default="")
    position = models.CharField(_("where it stands"), max_length=80, blank=True)
    placed_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["device"], condition=Q(until__isnull=True), name="placement_open_once"),
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=F("since")), name="placement_ends_after_start"
            ),
            models.CheckConstraint(
                condition=Q(until__isnull=True, ended="") | (Q(until__isnull=False) & ~Q(ended="")),
                name="placement_end_says_why",
            ),
            models.UniqueConstraint(
                fields=["site"], condition=Q(until__isnull=True, bus_role="leads"), name="placement_one_leads"
            ),
        ]
        indexes = [
            models.Index(fields=["site", "until"], name="placement_by_site"),
            models.Index(fields=["device", "since"], name="placement_by_device"),
        ]

    def __str__(self) -> str:
        return f"placement {self.public_id}"


class InstalledFirmware(models.Model):
    """What firmware a device was seen to run, and when."""

    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="firmware")
    version = models.CharField(max_length=40)
    seen_at = models.DateTimeField(default=timezone.now)
    recorded_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        indexes = [
            models.Index(fields=["device", "-seen_at"], name="firmware_latest"),
            models.Index(fields=["company", "version"], name="firmware_by_version"),
        ]

    def __str__(self) -> str:
        return self.version


class ExpectedDevice(models.Model):
    """A device that the plan says will stand at a site; a link fulfils it."""

    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="expected_devices")
    kind = models.CharField(max_length=16, choices=Kind)
    model = models.ForeignKey(DeviceModel, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    serial = models.CharField(max_length=253, blank=True)
    position = models.CharField(max_length=80, blank=True)
    fulfilled_by = models.OneToOneField(
        Placement, null=True, blank=True, on_delete=models.SET_NULL, related_name="fulfils"
    )

    def __str__(self) -> str:
        return f"expected {self.kind}"


class NoneExpected(models.Model):
    """Somebody said that no device of this kind will stand at the site; without it nobody said anything."""

    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="none_expected")
    kind = models.CharField(max_length=16, choices=Kind)
    stated_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    stated_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["site", "kind"], name="none_expected_once"),
            models.CheckConstraint(condition=Q(kind__in=Kind.values), name="none_expected_kind_known"),
        ]

    def __str__(self) -> str:
        return f"no {self.kind} expected"
