"""The register's Django application."""

from django.apps import AppConfig
from django.core.checks import Tags, register
from django.db.models.signals import post_migrate


class FleetConfig(AppConfig):
    """Companies, members, sites, devices, labels, placements and search."""

    name = "fleet"
    verbose_name = "Register"

    def ready(self) -> None:
        """Put the append-only triggers back after every migration (the one signal of the house) and check them."""
        from fleet.guards import apply_guards, check_guards

        post_migrate.connect(apply_guards, sender=self, dispatch_uid="fleet.guards")
        register(check_guards, Tags.database)
