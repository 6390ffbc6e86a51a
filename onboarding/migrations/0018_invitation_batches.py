import uuid

import django.db.models.deletion
import django.utils.timezone
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("fleet", "0014_summary_indexes"),
        ("onboarding", "0017_letters_evidence"),
    ]

    operations = [
        migrations.CreateModel(
            name="InvitationBatch",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("public_id", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
                ("made_at", models.DateTimeField(default=django.utils.timezone.now)),
                ("leaves_at", models.DateTimeField()),
                ("company", models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, to="fleet.company")),
                (
                    "made_by",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.SET_NULL, related_name="+", to="fleet.member"
                    ),
                ),
            ],
        ),
        migrations.AddField(
            model_name="invitation",
            name="batch",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.SET_NULL,
                related_name="invitations",
                to="onboarding.invitationbatch",
            ),
        ),
    ]
