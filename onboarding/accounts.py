"""allauth's adapter: sign-up is closed, and account mail is queued as a Delivery."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class AccountAdapter(DefaultAccountAdapter):  # type: ignore[misc]  # allauth ships no types
    """Nobody signs up by themselves: members are invited, owners accept."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        """Always closed."""
        return False

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        """Nothing leaves yet: deliveries come with the onboarding models."""
