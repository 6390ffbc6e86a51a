"""A company's catalogue of what it installs."""

import uuid

from django.core.validators import URLValidator
from django.db import models
from django.db.models import (
    CASCADE,
    CharField,
    CheckConstraint,
    ForeignKey,
    Index,
    Model,
    Q,
    UniqueConstraint,
    UUIDField,
)
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
    """Who makes a device; ``measurements_url`` is the page where owners see what their devices of it measure."""

    public_id = UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = ForeignKey(Company, on_delete=CASCADE, related_name="makers")
    name = CharField(_("maker"), max_length=80)
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


class MakerSpelling(Model):
    """Another way in which a maker's name is written on labels and lists; never a maker's own name."""

    company = ForeignKey(Company, on_delete=CASCADE)
    maker = ForeignKey(Maker, on_delete=CASCADE, related_name="spellings")
    name = CharField(_("other spelling"), max_length=80)

    class Meta:
        constraints = [
            UniqueConstraint("company", Lower("name"), name="spelling_once_per_company"),
        ]

    def __str__(self) -> str:
        return self.name


class DeviceModel(models.Model):
    """One model of a maker, with its ratings. ``ratings`` maps a rating's name to value and unit as printed.

    ``label_hint`` tells whoever stands before it where its label is and which code to scan.
    """

    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    company = models.ForeignKey(Company, on_delete=models.CASCADE, related_name="device_models")
    maker = models.ForeignKey(Maker, on_delete=models.PROTECT, related_name="models")
    name = models.CharField(_("model"), max_length=80)
    kind = models.CharField(_("kind"), max_length=16, choices=Kind)
    gtin = models.CharField(_("GTIN"), max_length=14, blank=True)
    part_number = models.CharField(_("part number"), max_length=80, blank=True)
    ratings = models.JSONField(default=dict, blank=True)
    current_firmware = models.CharField(_("current firmware"), max_length=40, blank=True)
    warranty_months = models.PositiveSmallIntegerField(_("warranty, months"), null=True, blank=True)
    label_hint = models.CharField(_("where the label is"), max_length=200, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint("maker", models.functions.Lower("name"), name="model_once_per_maker"),
            models.UniqueConstraint(fields=["company", "gtin"], condition=~Q(gtin=""), name="model_gtin_once"),
            models.CheckConstraint(condition=Q(kind__in=Kind.values), name="model_kind_known"),
        ]
        indexes = [models.Index(fields=["company", "part_number"], name="model_by_part_number")]

    def __str__(self) -> str:
        return self.name


class ModelNumber(Model):
    """A further GTIN or part number by which labels name a model; the first of each stands in the model's own row."""

    class Scheme(models.TextChoices):
        GTIN = "gtin", _("GTIN")
        PART_NUMBER = "part_number", _("Part number")

    company = ForeignKey(Company, on_delete=CASCADE)
    model = ForeignKey(DeviceModel, on_delete=CASCADE, related_name="numbers")
    scheme = CharField(max_length=11, choices=Scheme)
    value = CharField(max_length=80)

    class Meta:
        constraints = [
            UniqueConstraint(fields=["model", "scheme", "value"], name="model_number_once"),
            UniqueConstraint(fields=["company", "value"], condition=Q(scheme="gtin"), name="further_gtin_once"),
        ]
        indexes = [Index(fields=["company", "scheme", "value"], name="model_by_further_number")]

    def __str__(self) -> str:
        return self.value
