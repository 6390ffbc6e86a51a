from django.conf import settings
from django.db import migrations
from django.db.models import Max

from fleet.config.environment import BadSetting
from fleet.keys import ADDRESS, LEDGER, key_id
from onboarding.addresses import address_key
from onboarding.ledger.chain import entry_mac, same_mac

AT_ONCE = 5000


def name_the_first_key(apps, schema_editor):
    """So far every address was remembered by the ledger key: say so on each row, once that key proved to be the one."""
    models = [apps.get_model("onboarding", name) for name in ("Suppression", "Owner", "Delivery")]
    entries = apps.get_model("onboarding", "ConsentEntry").objects
    fingerprints = apps.get_model("onboarding", "KeyFingerprint").objects
    remembering = [model for model in models if model.objects.exclude(address_mac="").exists()]
    last = entries.order_by("-pk").first()
    if last is None and not remembering:
        return
    key = settings.LEDGER_KEY
    if not key or not (wrote(key, last) and knows(key, models[0].objects)):
        raise BadSetting(
            "The ledger key is missing, or is another than the one that this database was written with: put that one "
            "back (ROOFTALLY_LEDGER_KEY, or ledger-key in the data folder) and migrate again."
        )
    if last is not None:
        fingerprints.get_or_create(use=LEDGER, key=key_id(LEDGER, key))
    if remembering:
        fingerprints.get_or_create(use=ADDRESS, key=key_id(ADDRESS, key))
    for model in remembering:
        in_batches(model.objects, key_id(ADDRESS, key))


def wrote(key, last):
    return last is None or same_mac(entry_mac(key, last.previous_mac, last.canonical), last.mac)


def knows(key, suppressions):
    kept = suppressions.exclude(address="").order_by("-pk").first()
    return kept is None or address_key(kept.company_id, kept.address, key) == kept.address_mac


def in_batches(rows, name):
    last = rows.aggregate(last=Max("pk"))["last"] or 0
    for first in range(0, last + 1, AT_ONCE):
        rows.filter(pk__gte=first, pk__lt=first + AT_ONCE, mac_key="").exclude(address_mac="").update(mac_key=name)


class Migration(migrations.Migration):
    atomic = False  # each batch commits by itself; what is named already is passed over when it runs again
    dependencies = [("onboarding", "0009_keys")]

    operations = [migrations.RunPython(name_the_first_key, migrations.RunPython.noop, elidable=True)]
