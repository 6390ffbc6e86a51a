"""The onboarding application."""

from django.apps import AppConfig


class OnboardingConfig(AppConfig):
    """Owners, the consent ledger, invitations, deliveries, mail and the owner's own pages."""

    name = "onboarding"
    verbose_name = "Onboarding"
