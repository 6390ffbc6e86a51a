"""Where Django looks for the database named in settings."""

from typing import Any

from django.db.backends.postgresql.base import DatabaseWrapper as Django

PLANS = 400
"""Statements whose plans one connection keeps; the driver's hundred are fewer than the pages ask."""


class DatabaseWrapper(Django):
    """As Django's."""

    def get_new_connection(self, conn_params: dict[str, Any]) -> Any:
        """A connection, new or from the pool."""
        connection = super().get_new_connection(conn_params)
        connection.prepared_max = PLANS
        return connection
