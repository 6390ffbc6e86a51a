"""The site: one installation at one address, and what hangs on it."""

import uuid
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Now
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from fleet.models.company import Company, Member

if TYPE_CHECKING:
    from django_stubs_ext import StrOrPromise


class Stage(models.TextChoices):
    """How far a site's life has come."""

    PLANNED = "planned", _("Planned")
    INSTALLED = "installed", _("Installed")
    HANDED_OVER = "handed_over", _("Handed over")
    RETIRED = "retired", _("Retired")


class Use(models.TextChoices):
    """What the building is used for."""

    HOME = "home", _("Home")
    FLATS = "flats", _("Flats")
    BUSINESS = "business", _("Business")
    FARM = "farm", _("Farm")
    PUBLIC = "public", _("Public building")


def _amount(label: "StrOrPromise", digits: int = 9, places: int = 3) -> "models.DecimalField[object, object]":
    return models.DecimalField(
        label, max_digits=digits, decimal_places=places, null=True, blank=True, validators=[MinValueValidator(0)]
    )


class Site(models.Model):
    """One installation at one address. Personal data: the address fields, coordinates and ``note``.

    ``code`` is the eight symbols of the site code without its dash. Powers are in kW, storage in kWh.
    """

    code = models.CharField(_("site code"), max_length=8, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="sites")
    name = models.CharField(_("name"), max_length=120, blank=True, help_text=_("Only where the address is not enough."))
    street = models.CharField(_("street"), max_length=160)
    house_number = models.CharField(_("number"), max_length=20, blank=True)
    postcode = models.CharField(_("postcode"), max_length=16, blank=True)
    town = models.CharField(_("town"), max_length=100)
    region = models.CharField(_("region"), max_length=100, blank=True)
    country = models.CharField(_("country"), max_length=2, default="PT")
    latitude = models.DecimalField(
        _("latitude"), max_digits=9, decimal_places=6, null=True, blank=True,
        validators=[MinValueValidator(-90), MaxValueValidator(90)],
    )  # fmt: skip
    longitude = models.DecimalField(
        _("longitude"), max_digits=9, decimal_places=6, null=True, blank=True,
        validators=[MinValueValidator(-180), MaxValueValidator(180)],
    )  # fmt: skip
    time_zone = models.CharField(_("time zone"), max_length=64)
    use = models.CharField(_("use"), max_length=10, choices=Use, default=Use.HOME)
    installed_kwp = _amount(_("installed PV, kWp"))
    storage_kwh = _amount(_("storage, kWh"))
    inverter_ac_kw = _amount(_("inverter AC, kW"))
    phases = models.PositiveSmallIntegerField(
        _("phases"), null=True, blank=True, choices=[(1, "1"), (2, "2"), (3, "3")]
    )
    export_limit_kw = _amount(_("export limit, kW"))
    grid_rule = models.CharField(_("grid rule"), max_length=80, blank=True)
    stage = models.CharField(_("stage"), max_length=12, choices=Stage, default=Stage.PLANNED)
    installed_on = models.DateField(_("installed on"), null=True, blank=True)
    handed_over_at = models.DateTimeField(null=True, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)
    note = models.TextField(_("note"), blank=True, max_length=4000)
    tags = models.ManyToManyField("fleet.Tag", related_name="sites", blank=True)
    version = models.PositiveIntegerField(default=1)
    created_at = models.DateTimeField(default=timezone.now)
    updated_at = models.DateTimeField(auto_now=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(stage__in=Stage.values), name="site_stage_known"),
            models.CheckConstraint(
                condition=Q(latitude__isnull=True, longitude__isnull=True)
                | Q(latitude__isnull=False, longitude__isnull=False),
                name="site_coordinates_together",
            ),
        ]
        indexes = [
            models.Index(fields=["company", "-id"], name="site_by_company"),
            models.Index(fields=["company", "stage", "-id"], name="site_by_stage"),
            models.Index(fields=["company", "region", "-id"], name="site_by_region"),
            models.Index(fields=["company", "installed_on"], name="site_by_day"),
        ]

    def __str__(self) -> str:
        return self.written_code

    @property
    def written_code(self) -> str:
        """The site code as people write it: ``ABCD-EFGH``."""
        return f"{self.code[:4]}-{self.code[4:]}"

    @property
    def address_line(self) -> str:
        """Street and number, postcode and town on one line."""
        street = f"{self.street} {self.house_number}".strip()
        return ", ".join(part for part in (street, f"{self.postcode} {self.town}".strip()) if part)

    @property
    def zone(self) -> ZoneInfo:
        """The time zone in which this site's times are shown."""
        return ZoneInfo(self.time_zone)


class Tag(models.Model):
    """A company's own word for a group of sites."""

    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="tags")
    name = models.CharField(max_length=40)

    class Meta:
        constraints = [
            models.UniqueConstraint("company", models.functions.Lower("name"), name="tag_once_per_company"),
        ]

    def __str__(self) -> str:
        return self.name


class SiteReference(models.Model):
    """A number by which others know the site."""

    class Kind(models.TextChoices):
        ORDER = "order", _("Order number")
        METER_POINT = "meter_point", _("Meter point")
        CUSTOMER = "customer", _("Customer number")
        OTHER = "other", _("Other")

    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="references")
    kind = models.CharField(max_length=12, choices=Kind)
    value = models.CharField(max_length=80)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "kind", "value"], name="reference_once")]
        indexes = [models.Index(fields=["company", "value"], name="reference_by_value")]

    def __str__(self) -> str:
        return self.value


class SiteCodeAlias(models.Model):
    """The code of a site that was merged into another; it still resolves."""

    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    code = models.CharField(max_length=8, unique=True)
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="aliases")
    since = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return self.code


class SiteSighting(models.Model):
    """A field member's structured camera reading matched this site; it opens the site to them for 30 days."""

    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="sightings")
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="sightings")
    seen_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["member", "site"], name="sighting_once")]

    def __str__(self) -> str:
        return f"sighting {self.pk}"


class HandoverCheck(models.Model):
    """One thing that must be true before a site is handed over: a title, a finding and a note."""

    class Finding(models.TextChoices):
        OPEN = "open", _("Still to do")
        DONE = "done", _("Done")
        PROBLEM = "problem", _("Problem found")
        WAIVED = "waived", _("Waived")

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE)
    site = models.ForeignKey(Site, on_delete=models.CASCADE, related_name="checks")
    title = models.CharField(max_length=120)
    finding = models.CharField(max_length=8, choices=Finding, default=Finding.OPEN)
    note = models.TextField(blank=True, max_length=2000)
    found_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    found_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["site", "title"], name="check_once_per_site")]

    def __str__(self) -> str:
        return self.title


class SiteSummary(models.Model):
    """What lists and filters show, count and sort by of a site, written by reindexing alone.

    ``kinds`` and ``model_ids`` are those of the devices standing there, ``missing_permissions`` purposes, each once, in
    order, a space between. ``stage_since`` and ``move_since`` are since when ``stage`` and ``next_move`` hold: another
    change of the site leaves them. A power or storage that nobody said is -1. Personal data: ``owner_names``,
    ``owner_key``, ``address_key``.
    """

    site = models.OneToOneField(Site, primary_key=True, on_delete=models.CASCADE, related_name="summary")
    company = models.ForeignKey(Company, on_delete=models.CASCADE, db_index=False)
    owner_names = models.CharField(max_length=300, blank=True)
    invitation_state = models.CharField(max_length=12, blank=True)
    missing_permissions = models.CharField(max_length=80, blank=True)
    device_count = models.PositiveIntegerField(default=0)
    next_move = models.CharField(max_length=40, blank=True)
    move_since = models.DateTimeField(default=timezone.now, db_default=Now())
    stage = models.CharField(max_length=12, blank=True, default="", db_default="")
    stage_since = models.DateTimeField(default=timezone.now, db_default=Now())
    region = models.CharField(max_length=100, blank=True, default="", db_default="")
    kinds = models.CharField(max_length=120, blank=True, default="", db_default="")
    model_ids = models.TextField(blank=True, default="", db_default="")
    address_key = models.CharField(max_length=80, blank=True, default="", db_default="")
    owner_key = models.CharField(max_length=60, blank=True, default="", db_default="")
    pv_watts = models.IntegerField(default=-1, db_default=-1)
    storage_wh = models.IntegerField(default=-1, db_default=-1)

    class Meta:
        indexes = [
            models.Index(fields=["company", "invitation_state", "site"], name="summary_by_invitation"),
            models.Index(fields=["company", "missing_permissions", "site"], name="summary_by_permission"),
            models.Index(fields=["company", "next_move", "move_since", "site"], name="summary_by_move"),
            models.Index(fields=["company", "stage", "stage_since", "site"], name="summary_by_stage"),
            models.Index(fields=["company", "stage_since", "site"], name="summary_by_age"),
            models.Index(fields=["company", "address_key", "site"], name="summary_by_address"),
            models.Index(fields=["company", "owner_key", "site"], name="summary_by_owner"),
            models.Index(fields=["company", "pv_watts", "site"], name="summary_by_power"),
            models.Index(fields=["company", "storage_wh", "site"], name="summary_by_storage"),
            models.Index(fields=["company", "device_count", "site"], name="summary_by_devices"),
            # Every filter of the register's own: a count with any of them reads this index alone.
            models.Index(
                fields=[
                    "company",
                    "stage",
                    "next_move",
                    "invitation_state",
                    "missing_permissions",
                    "region",
                    "kinds",
                    "model_ids",
                    "site",
                ],
                name="summary_for_counts",
            ),
        ]

    def __str__(self) -> str:
        return f"summary of {self.site_id}"
