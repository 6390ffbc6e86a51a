"""What every test stands on: settings that make tests quick, and a clean cache."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from django.conf import settings


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
    if {"db", "transactional_db"} & set(request.fixturenames):
        from django.core.cache import cache

        cache.clear()
