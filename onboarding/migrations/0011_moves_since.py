from django.db import migrations
from django.db.models import F, Max, OuterRef, Subquery
from django.db.models.functions import Coalesce, Greatest

AT_ONCE = 1000


def fill(apps, schema_editor):
    """Since when next moves hold: the last that was heard of a site's present owners, batch by batch."""
    summaries = apps.get_model("fleet", "SiteSummary").objects
    owning = apps.get_model("onboarding", "Ownership").objects.filter(site=OuterRef("site"), until__isnull=True)
    owners = apps.get_model("onboarding", "Ownership").objects.filter(site=OuterRef("site"), until__isnull=True)
    invited = apps.get_model("onboarding", "Invitation").objects.filter(
        site=OuterRef("site"), owner__in=owners.values("owner")
    )
    allowed = apps.get_model("onboarding", "ConsentStanding").objects.filter(
        site=OuterRef("site"), owner__in=owners.values("owner"), purpose="contact"
    )
    heard = [
        _latest(owning, F("since")),
        _latest(invited, Coalesce("ended_at", "sent_at", "created_at")),
        _latest(allowed, F("at")),
    ]
    latest = Greatest(*(Coalesce(each, F("move_since")) for each in heard), F("move_since"))
    after = 0
    while ids := list(summaries.filter(pk__gt=after).order_by("pk").values_list("pk", flat=True)[:AT_ONCE]):
        after = ids[-1]
        summaries.filter(pk__in=ids).exclude(next_move="").update(move_since=latest)


def _latest(rows, moment):
    """The latest such moment of a site's rows."""
    return Subquery(rows.order_by().values("site").annotate(latest=Max(moment)).values("latest"))


class Migration(migrations.Migration):
    atomic = False
    dependencies = [("onboarding", "0010_first_key"), ("fleet", "0013_fill_summaries")]
    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=True)]
