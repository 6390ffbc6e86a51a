"""What every page's template knows."""

from typing import Any

from django.conf import settings
from django.http import HttpRequest


def on_every_page(request: HttpRequest) -> dict[str, Any]:
    """The acting member and whether this is the demo."""
    return {"member": getattr(request, "member", None), "demo": settings.DEMO}
