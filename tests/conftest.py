"""What every test stands on: settings that make tests quick, and a clean cache."""

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings

from tests.servers.plugin import USES_DATABASE


@pytest.fixture(scope="session")
def django_db_keepdb() -> bool:
    """Whether the plugin brought a migrated database along."""
    return "TEST_TEMPLATE" in os.environ


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings: None, tmp_path_factory: pytest.TempPathFactory
) -> None:  # the database is a file, as in production: threads see each other's commits
    """On SQLite the test database is a file in the run's own folder."""
    entry = settings.DATABASES["default"]
    if entry["ENGINE"].endswith("sqlite3"):
        name = str(Path(settings.DATA_DIR) / "test.sqlite3")
        entry["TEST"] = {**entry.get("TEST", {}), "NAME": name}


@pytest.fixture(autouse=True, scope="session")
def _quick_settings() -> None:
    """Cheap password hashing, and static files by their plain names."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
    }


@pytest.fixture(autouse=True)
def _clean_cache(request: pytest.FixtureRequest) -> Iterator[None]:
    """Rate limits and other cached counts of one test never reach the next."""
    yield
    if USES_DATABASE & set(request.fixturenames):
        from django.core.cache import cache

        cache.clear()


@pytest.fixture(autouse=True, scope="session")
def _flush_past_guards() -> Iterator[None]:
    """Append-only triggers are lifted while a test's committed rows are flushed, and only then."""
    from django.db import connection
    from django.test import TransactionTestCase

    from fleet.guards import Guard, apply_guards, declared_guards
    from fleet.models import SearchMark
    from fleet.search.tables import emptying

    testcase: Any = TransactionTestCase
    flush = testcase._fixture_teardown

    def lifted(case: TransactionTestCase) -> None:
        present = set(connection.introspection.table_names())
        with connection.cursor() as cursor:
            for statement in emptying(connection.vendor):
                cursor.execute(statement)
            for guard in declared_guards():
                if isinstance(guard, Guard) and guard.table in present:
                    for trigger in (*guard.triggers, f"{guard.table}_keep_truncate"):
                        on_table = "" if connection.vendor == "sqlite" else f" ON {guard.table}"
                        cursor.execute(f"DROP TRIGGER IF EXISTS {trigger}{on_table}")
        try:
            flush(case)
        finally:
            apply_guards()
        SearchMark.objects.all().delete()  # on SQLite the flush itself fires the triggers that mark sites

    testcase._fixture_teardown = lifted
    yield
    testcase._fixture_teardown = flush
