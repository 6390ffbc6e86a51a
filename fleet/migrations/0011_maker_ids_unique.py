import uuid

from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [("fleet", "0010_maker_ids")]

    operations = [
        migrations.AlterField("maker", "public_id", models.UUIDField(default=uuid.uuid4, editable=False, unique=True)),
    ]
