from django.conf import settings
from django.db import migrations, models

from onboarding.addresses import address_key, mailbox_of

AT_ONCE = 500


def fill(apps, schema_editor):
    """Entries so far: by their address, or where that was never kept by its own hash."""
    suppressions = apps.get_model("onboarding", "Suppression").objects
    while rows := list(suppressions.filter(mailbox_mac="")[:AT_ONCE]):
        for row in rows:
            row.mailbox_mac = address_key(row.company_id, mailbox_of(row.address), settings.LEDGER_KEY) if row.address else row.address_mac
        suppressions.bulk_update(rows, ["mailbox_mac"])


class Migration(migrations.Migration):
    dependencies = [("onboarding", "0006_erased_owners")]

    operations = [
        migrations.AddField("suppression", "mailbox_mac", models.CharField(blank=True, db_index=True, max_length=64)),
        migrations.RunPython(fill, migrations.RunPython.noop, elidable=True),
    ]
