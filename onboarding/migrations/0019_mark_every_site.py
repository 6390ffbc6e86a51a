"""Marks every site, so that the sweep writes its summary anew: what *ready to invite* means has changed."""

from django.db import migrations

BATCH = 5000


def mark(apps, schema_editor):
    Site = apps.get_model("fleet", "Site")
    SearchMark = apps.get_model("fleet", "SearchMark")
    last = 0
    while keys := list(Site.objects.filter(pk__gt=last).order_by("pk").values_list("pk", flat=True)[:BATCH]):
        marked = set(SearchMark.objects.filter(site_id__in=keys).values_list("site_id", flat=True))
        SearchMark.objects.bulk_create(SearchMark(site_id=key) for key in keys if key not in marked)
        last = keys[-1]


class Migration(migrations.Migration):
    atomic = False

    dependencies = [("onboarding", "0018_invitation_batches"), ("fleet", "0019_phone_clocks")]

    operations = [migrations.RunPython(mark, migrations.RunPython.noop)]
