"""What every page's template knows."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest

from fleet.views.appearance import chosen_theme
from fleet.views.navigation import navigation, own_pages


def on_every_page(request: HttpRequest) -> dict[str, Any]:
    """The acting member, the person's memberships and navigation, the chosen theme, and whether this is the demo."""
    member = getattr(request, "member", None)
    return {
        "member": member,
        "memberships": getattr(request, "memberships", []),
        "navigation": navigation(request, member),
        "own_pages": own_pages(request, member),
        "theme": chosen_theme(request),
        "demo": settings.DEMO,
    }
