"""An account has one address: what was only asked for goes, and who joined by a mailed link is confirmed by it."""

from django.db import migrations
from django.db.models import F
from django.db.models.functions import Lower


def settle(apps, schema_editor):
    EmailAddress = apps.get_model("account", "EmailAddress")
    MemberInvitation = apps.get_model("fleet", "MemberInvitation")
    User = apps.get_model("fleet", "User")
    EmailAddress.objects.exclude(email=Lower(F("user__email"))).delete()
    joined = MemberInvitation.objects.filter(accepted_at__isnull=False).values_list("email", flat=True)
    for address in {each.lower() for each in joined}:
        user = User.objects.filter(email__iexact=address).first()
        if user is not None and not EmailAddress.objects.filter(email=address, verified=True).exists():
            EmailAddress.objects.update_or_create(
                user=user, email=address, defaults={"primary": True, "verified": True}
            )


class Migration(migrations.Migration):
    dependencies = [
        ("onboarding", "0012_address_changes"),
        ("fleet", "0016_short_passwords"),
        ("account", "0009_emailaddress_unique_primary_email"),
    ]
    operations = [migrations.RunPython(settle, migrations.RunPython.noop)]
