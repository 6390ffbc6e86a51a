"""Everything in one process: the web server, the Celery worker and the beat service, as threads."""
