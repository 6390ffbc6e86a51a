"""What browser a session runs in, in words; from what it says of itself, which anybody may falsify.

The tokens are common practice, no standard names them. The more particular stand first: browsers name others too.
"""

from django.utils.translation import gettext as _

BROWSERS = (
    ("Firefox/", "Firefox"),
    ("FxiOS/", "Firefox"),
    ("Edg", "Edge"),
    ("OPR/", "Opera"),
    ("SamsungBrowser/", "Samsung Internet"),
    ("CriOS/", "Chrome"),
    ("Chrome/", "Chromium"),
    ("Safari/", "Safari"),
)
SYSTEMS = (
    ("Android", "Android"),
    ("iPhone", "iPhone"),
    ("iPad", "iPad"),
    ("Windows", "Windows"),
    ("Mac OS X", "macOS"),
    ("CrOS", "ChromeOS"),
    ("Linux", "Linux"),
)


def browser(told: str) -> str:
    """``Chromium on Linux``; what says nothing known is another program."""
    name = next((word for token, word in BROWSERS if token in told), "") or _("Another program")
    system = next((word for token, word in SYSTEMS if token in told), "")
    return _("%(browser)s on %(system)s") % {"browser": name, "system": system} if system else name
