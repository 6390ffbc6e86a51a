"""The Celery application; tasks live in each package's ``tasks.py``."""

import os

from celery import Celery

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "fleet.config.settings")

app = Celery("rooftally")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()
