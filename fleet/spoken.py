"""The language that pages and mails are written in for somebody: only those are offered that are whole."""

from django.conf import settings

SOURCE = "en"


def spoken(preferred: str) -> str:
    """``preferred`` or its base where the house speaks it, else English."""
    offered = {code for code, _name in settings.LANGUAGES}
    return next((code for code in (preferred, preferred.partition("-")[0]) if code in offered), SOURCE)
