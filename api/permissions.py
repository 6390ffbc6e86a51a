"""What an API request needs."""

from rest_framework.permissions import IsAuthenticated


class ActingMember(IsAuthenticated):
    """A signed-in member."""
