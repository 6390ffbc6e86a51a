"""``manage.py migrate``: Django's, and then the keys that the database rests on are made or compared."""

from typing import Any

from django.core.management.base import CommandError
from django.core.management.commands.migrate import Command as Migrate

from onboarding.operations.keys import settle_keys


class Command(Migrate):
    def handle(self, *args: Any, **options: Any) -> None:
        super().handle(*args, **options)
        if options["app_label"] or options["plan"] or options["check_unapplied"]:
            return
        if faults := settle_keys():
            raise CommandError(" ".join(faults))
