from datetime import UTC, datetime, time

from django.db import migrations

from fleet.search.fold import sorting_key

AT_ONCE = 1000
COLUMNS = (
    "stage", "stage_since", "move_since", "region", "address_key", "owner_key", "pv_watts", "storage_wh", "kinds",
    "model_ids",
)  # fmt: skip


def fill(apps, schema_editor):
    """Summaries so far, batch by batch, each in a transaction of its own; once more does no harm."""
    Summary, Placement = apps.get_model("fleet", "SiteSummary"), apps.get_model("fleet", "Placement")
    connection = schema_editor.connection
    setting = ", ".join(f"{column} = %s" for column in COLUMNS)
    after = 0
    while batch := list(Summary.objects.filter(pk__gt=after).order_by("pk").select_related("site")[:AT_ONCE]):
        after = batch[-1].pk
        standing = {summary.pk: (set(), set()) for summary in batch}
        placed = Placement.objects.filter(site__in=list(standing), until__isnull=True)
        for site_id, kind, model_id in placed.values_list("site_id", "device__kind", "device__model_id"):
            standing[site_id][0].add(kind)
            standing[site_id][1].update(filter(None, [model_id]))
        rows = [(*_values(connection, summary, *standing[summary.pk]), summary.pk) for summary in batch]
        with connection.cursor() as cursor:
            cursor.executemany(f"UPDATE fleet_sitesummary SET {setting} WHERE site_id = %s", rows)


def _values(connection, summary, kinds, models):
    site = summary.site
    installed = datetime.combine(site.installed_on, time(), tzinfo=UTC) if site.installed_on else None
    began = {"installed": installed, "handed_over": site.handed_over_at, "retired": site.retired_at}
    since = min(began.get(site.stage) or site.created_at, datetime.now(UTC))
    since = connection.ops.adapt_datetimefield_value(since)
    address = sorting_key(f"{site.street} {site.house_number} {site.town}")
    return (
        site.stage, since, since, site.region, address[:80], sorting_key(summary.owner_names)[:60],
        -1 if site.installed_kwp is None else int(site.installed_kwp * 1000),
        -1 if site.storage_kwh is None else int(site.storage_kwh * 1000),
        " ".join(sorted(kinds)), " ".join(map(str, sorted(models))),
    )  # fmt: skip


class Migration(migrations.Migration):
    atomic = False
    dependencies = [("fleet", "0012_summary_since")]
    operations = [migrations.RunPython(fill, migrations.RunPython.noop, elidable=True)]
