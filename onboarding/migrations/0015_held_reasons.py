from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("onboarding", "0014_sale_reports"),
    ]

    operations = [
        migrations.AlterField(
            model_name="invitation",
            name="held_reason",
            field=models.CharField(
                blank=True,
                choices=[
                    ("no_consent", "No permission to write"),
                    ("opted_out", "The owner opted out"),
                    ("bad_address", "The address cannot be used"),
                    ("no_address", "No e-mail address is known"),
                    ("not_ready", "Handover checks are still open"),
                    ("ran_out", "The permission to write ran out"),
                    ("ledger_differs", "The ledger does not bear the permission out"),
                ],
                max_length=16,
            ),
        ),
    ]
