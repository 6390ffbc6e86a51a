"""The WSGI application that gunicorn and waitress serve."""

import logging
import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")

application = get_wsgi_application()


def _say_what_is_not_in_place() -> None:
    """In the log, once at start. ``/readyz`` goes on saying it, and what needs it is refused; reading goes on."""
    from django.conf import settings
    from django.db import DatabaseError, connection
    from django.utils.module_loading import import_string

    log = logging.getLogger(__name__)
    try:
        for told in (told for name in settings.READINESS for told in import_string(name)()):
            log.critical("%s", told)
    except DatabaseError:
        log.warning("the database does not answer yet, or is not migrated; /readyz says when it does")
    finally:
        connection.close()


_say_what_is_not_in_place()
