"""``manage.py rekey_addresses``: after a new address key was put in front of the older ones."""

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from fleet.keys import ADDRESS, KeyMissing, address_keys, key_id
from onboarding.operations.keys import AddressKeyNotHere
from onboarding.operations.rekeying import forget_unused_keys, rekey_addresses, rows_of
from onboarding.queries.keys import address_fault


class Command(BaseCommand):
    help = (
        "Remember addresses by the first of ROOFTALLY_ADDRESS_KEYS. Rows whose address was erased keep their key, "
        "which must stay in the list as long as they are there. May be stopped and run again."
    )

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            done = sum(rekey_addresses())
            keys = address_keys()
        except (AddressKeyNotHere, KeyMissing) as error:
            raise CommandError(address_fault()) from error
        self.stdout.write(f"{done} rows are remembered by the first key now ({key_id(ADDRESS, keys[0])}).")
        forget_unused_keys()
        for key in keys[1:]:
            name = key_id(ADDRESS, key)
            needed = rows_of(name)
            told = (
                f"{needed} rows of erased addresses need it, so keep it" if needed else "no row needs it, so remove it"
            )
            self.stdout.write(f"Older key {name}: {told}.")
