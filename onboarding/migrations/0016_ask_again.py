from functools import reduce

from django.db import migrations
from django.db.models import Exists, OuterRef

from onboarding.ledger.standing import GRANTING, Fact, next_standing
from onboarding.moments import months_later

AT_ONCE = 1000


def stand_anew(apps, schema_editor):
    """A yes whose time was over counted as a no, so that what staff reported afterwards had no effect: it stands now.

    Invitations held as opted out over such a permission say what is true; those freed by it are looked at again.
    """
    standings = apps.get_model("onboarding", "ConsentStanding").objects
    entries = apps.get_model("onboarding", "ConsentEntry").objects.select_related("wording")
    after = 0
    while batch := list(standings.filter(state="expired", pk__gt=after).order_by("pk")[:AT_ONCE]):
        after = batch[-1].pk
        for row in batch:
            theirs = entries.filter(site=row.site_id, owner=row.owner_id, purpose=row.purpose).order_by("position")
            by_id = {str(entry.entry_id): entry for entry in theirs}
            facts = [Fact(name, each.state, each.evidence, each.at) for name, each in by_id.items()]
            deciding = reduce(next_standing, facts, None)
            if deciding is not None and deciding.entry != str(row.entry.entry_id):
                stand(row, by_id[deciding.entry], deciding)


def stand(row, entry, deciding):
    months = int(entry.wording.particulars.get("valid_months") or 0) if entry.wording else 0
    row.entry, row.state, row.strong, row.at = entry, entry.state, deciding.strong, entry.at
    row.ends_at = months_later(entry.at, months) if months and entry.state in GRANTING else None
    row.save(update_fields=["entry", "state", "strong", "at", "ends_at"])


def say_why(apps, schema_editor):
    held = apps.get_model("onboarding", "Invitation").objects.filter(state="held", held_reason="opted_out")
    standing = apps.get_model("onboarding", "ConsentStanding").objects.filter(
        site=OuterRef("site"), owner=OuterRef("owner"), purpose="contact"
    )
    suppressed = apps.get_model("onboarding", "Suppression").objects.filter(
        company=OuterRef("company"), address=OuterRef("owner__email"), lifted_at__isnull=True
    )
    held.filter(Exists(standing.filter(state="expired")), ~Exists(suppressed)).update(held_reason="ran_out")
    held.filter(Exists(standing.filter(state__in=GRANTING)), ~Exists(suppressed)).update(held_reason="ledger_differs")


class Migration(migrations.Migration):
    atomic = False  # each row is settled by itself; running again changes nothing more
    dependencies = [("onboarding", "0015_held_reasons")]

    operations = [
        migrations.RunPython(stand_anew, migrations.RunPython.noop, elidable=True),
        migrations.RunPython(say_why, migrations.RunPython.noop, elidable=True),
    ]
