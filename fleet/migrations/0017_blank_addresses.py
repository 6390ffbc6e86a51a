"""An account whose address went blank gets a name that no mail reaches; its person is let in by the operator."""

from django.db import migrations


def name_them(apps, schema_editor):
    User = apps.get_model("fleet", "User")
    for user in User.objects.filter(email="").only("pk"):
        User.objects.filter(pk=user.pk).update(email=f"{user.pk.hex}@no-address.invalid")  # RFC 6761


class Migration(migrations.Migration):
    dependencies = [("fleet", "0016_short_passwords")]
    operations = [migrations.RunPython(name_them, migrations.RunPython.noop)]
