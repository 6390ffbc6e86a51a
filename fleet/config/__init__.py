"""Wiring only: settings, URLs, the Celery application, WSGI."""
