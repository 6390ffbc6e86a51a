"""The REST API's Django application."""

from django.apps import AppConfig


class ApiConfig(AppConfig):
    """REST over the register and onboarding; no models of its own."""

    name = "api"
    verbose_name = "API"
