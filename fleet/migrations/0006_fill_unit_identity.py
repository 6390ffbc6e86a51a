"""Says of the devices that are there what their serials are numbered within, and lists what cannot be decided.

A device without an issuer whose label gave a part number is numbered within that part. A scan that was answered as such
a device, although its label gave another part number, GTIN or model, may have been a second unit: it is listed for the
office. Both run in batches and may be run again.
"""

from django.db import migrations
from django.db.models import F, Value
from django.db.models.functions import Concat

BATCH = 2000


def fill(apps, schema_editor):
    Device = apps.get_model("fleet", "Device")
    Scan = apps.get_model("fleet", "Scan")
    UnitDoubt = apps.get_model("fleet", "UnitDoubt")
    unissued = Device.objects.filter(issuer_scheme="", issuer="")
    for keys in _batches(unissued.filter(numbered_within="").exclude(part_number="")):
        Device.objects.filter(pk__in=keys).update(numbered_within=Concat(Value("part:"), F("part_number")))
    answered = Scan.objects.filter(device__issuer_scheme="", device__issuer="", doubt__isnull=True)
    for keys in _batches(answered.filter(outcome__in=("already_here", "elsewhere"))):
        scans = Scan.objects.filter(pk__in=keys).select_related("device__model")
        doubts = [UnitDoubt(company_id=scan.company_id, scan=scan) for scan in scans if _contradicts(scan)]
        UnitDoubt.objects.bulk_create(doubts, ignore_conflicts=True)


def _batches(rows):
    last = 0
    while keys := list(rows.filter(pk__gt=last).order_by("pk").values_list("pk", flat=True)[:BATCH]):
        yield keys
        last = keys[-1]


def _contradicts(scan):
    facts = scan.reading.get("facts", {}) if isinstance(scan.reading, dict) else {}
    device = scan.device
    known = {
        "part_number": device.part_number, "gtin": device.gtin, "model": device.model.name if device.model else "",
    }
    return any(known[name] and facts.get(name) and known[name] != facts[name] for name in known)


class Migration(migrations.Migration):
    atomic = False

    dependencies = [("fleet", "0005_unit_identity")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
