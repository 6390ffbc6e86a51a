from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("onboarding", "0007_mailbox_of_suppressions")]

    operations = [
        migrations.AddField("delivery", "provider_id", models.CharField(blank=True, db_default="", max_length=200)),
        migrations.AddIndex(
            "delivery",
            models.Index(
                condition=models.Q(("provider_id", ""), _negated=True),
                fields=["provider_id"],
                name="delivery_at_provider",
            ),
        ),
    ]
