"""Which applications' static files are collected: not those of libraries whose pages we do not show."""

from django.contrib.staticfiles.apps import StaticFilesConfig


class StaticFiles(StaticFilesConfig):
    """Leaves out REST framework's browsable pages and django-htmx's copies of htmx (ours comes from npm, pinned)."""

    ignore_patterns = [*StaticFilesConfig.ignore_patterns, "rest_framework", "django_htmx"]
