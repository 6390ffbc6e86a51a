"""A company's catalogue of what it installs."""

import uuid

from django.core.validators import URLValidator
from django.db import models
from django.db.models import CASCADE, CharField, CheckConstraint, ForeignKey, JSONField, Model, Q, UniqueConstraint
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from fleet.models.company import Company


class Kind(models.TextChoices):
    """What a device is."""

    INVERTER = "inverter", _("Inverter")
    BATTERY = "battery", _("Battery")
    COMMUNICATION = "communication", _("Communication module")
    METER = "meter", _("Energy meter")
    BACKUP_SWITCH = "backup_switch", _("Backup switch")
    OPTIMISER = "optimiser", _("Optimiser")
    CHARGE_POINT = "charge_point", _("Charge point")
    OTHER = "other", _("Other")


# A maker's models are its ``models``: inside the class that name would hide django.db.models from the type checker.
class Maker(Model):
    """Who makes a device. ``issuers`` lists label issuers known to be this maker, as ``scheme:value``.

    ``measurements_url`` is the page where owners see what their devices of this maker measure.
    """

    company = ForeignKey(Company, on_delete=CASCADE, related_name="makers")
    name = CharField(_("maker"), max_length=80)
    issuers = JSONField(default=list, blank=True)
    measurements_url = CharField(
        _("page with measurements"), max_length=300, blank=True, validators=[URLValidator(schemes=["https"])]
    )

    class Meta:
        constraints = [
            UniqueConstraint("company", Lower("name"), name="maker_once_per_company"),
            CheckConstraint(
                condition=Q(measurements_url="") | Q(measurements_url__startswith="https://"),
                name="maker_measurements_by_https",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class DeviceModel(models.Model):
    """One model of a maker, with its ratings. ``ratings`` maps a rating's name to value and unit as printed."""

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="device_models")
    maker = models.ForeignKey(Maker, on_delete=models.PROTECT, related_name="models")
    name = models.CharField(_("model"), max_length=80)
    kind = models.CharField(_("kind"), max_length=16, choices=Kind)
    gtin = models.CharField(_("GTIN"), max_length=14, blank=True)
    part_number = models.CharField(_("part number"), max_length=80, blank=True)
    ratings = models.JSONField(default=dict, blank=True)
    current_firmware = models.CharField(_("current firmware"), max_length=40, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint("maker", models.functions.Lower("name"), name="model_once_per_maker"),
            models.UniqueConstraint(fields=["company", "gtin"], condition=~Q(gtin=""), name="model_gtin_once"),
            models.CheckConstraint(condition=Q(kind__in=Kind.values), name="model_kind_known"),
        ]
        indexes = [models.Index(fields=["company", "part_number"], name="model_by_part_number")]

    def __str__(self) -> str:
        return self.name
