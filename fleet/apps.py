"""The register's Django application."""

from django.apps import AppConfig


class FleetConfig(AppConfig):
    """Companies, members, sites, devices, labels, placements and search."""

    name = "fleet"
    verbose_name = "Register"
