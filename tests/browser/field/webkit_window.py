"""A WebKit window that WebKitWebDriver may drive, with a profile in the folder given: run by Debian's own Python.

The driver's usual browser forgets everything when it ends; a phone does not, and this one can be killed like a phone.
"""

import sys
from pathlib import Path

import gi

gi.require_version("Gtk", "3.0")
gi.require_version("WebKit2", "4.1")
from gi.repository import Gtk, WebKit2  # noqa: E402  (the versions must be chosen first)

PHONE = (390, 844)


def main(folder: Path) -> None:
    """Wait for the driver, and open a window of a phone's size for each view that it asks for."""
    store = WebKit2.WebsiteDataManager(
        base_data_directory=str(folder / "data"), base_cache_directory=str(folder / "cache")
    )
    context = WebKit2.WebContext(website_data_manager=store)
    cookies = context.get_cookie_manager()
    cookies.set_persistent_storage(str(folder / "cookies"), WebKit2.CookiePersistentStorage.SQLITE)
    context.set_automation_allowed(True)

    def opened(_session: object) -> WebKit2.WebView:
        view = WebKit2.WebView(web_context=context, is_controlled_by_automation=True)
        window = Gtk.Window()
        window.set_default_size(*PHONE)
        window.add(view)
        window.show_all()
        return view

    context.connect("automation-started", lambda _context, session: session.connect("create-web-view", opened))
    Gtk.main()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
