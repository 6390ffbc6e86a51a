import django.utils.timezone
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("onboarding", "0008_provider_ids")]

    operations = [
        migrations.CreateModel(
            name="KeyFingerprint",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("use", models.CharField(max_length=8)),
                ("key", models.CharField(max_length=16)),
                ("since", models.DateTimeField(default=django.utils.timezone.now)),
            ],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=("use", "key"), name="key_once"),
                    models.UniqueConstraint(
                        condition=models.Q(("use", "ledger")), fields=("use",), name="key_of_ledger_once"
                    ),
                ]
            },
        ),
        migrations.AddField("delivery", "mac_key", models.CharField(blank=True, max_length=16)),
        migrations.AddField("owner", "mac_key", models.CharField(blank=True, max_length=16)),
        migrations.AddField("suppression", "mac_key", models.CharField(blank=True, max_length=16)),
    ]
