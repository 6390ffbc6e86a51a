"""Gives makers of before their public ids."""

import uuid

from django.db import migrations

BATCH = 500


def fill(apps, schema_editor):
    """An id of its own for each; makers are few, a batch is one company's or several."""
    Maker = apps.get_model("fleet", "Maker")
    last = 0
    while makers := list(Maker.objects.filter(pk__gt=last).order_by("pk")[:BATCH]):
        for maker in makers:
            Maker.objects.filter(pk=maker.pk).update(public_id=uuid.uuid4())
        last = makers[-1].pk


class Migration(migrations.Migration):
    atomic = False

    dependencies = [("fleet", "0009_catalogue_changes")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
