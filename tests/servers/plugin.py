"""A pytest plugin that must be loaded early (``-p tests.servers.plugin``): it prepares the environment before Django's
settings are read.

``TEST_DATABASE`` is ``sqlite`` (the default) or ``postgresql``; the latter starts a throwaway PostgreSQL and Redis.
Every run has a data folder of its own. Under xdist the first process starts the servers and the others use them.
"""

import atexit
import os
import shutil
from pathlib import Path

import pytest

from tests.servers.postgres import Postgres
from tests.servers.process import scratch_folder
from tests.servers.redis import Redis

USES_DATABASE = {
    "db",
    "django_db_setup",
    "transactional_db",
    "django_db_reset_sequences",
    "django_db_serialized_rollback",
    "live_server",
}


def _prepare_environment() -> None:
    worker = os.environ.get("PYTEST_XDIST_WORKER")
    if worker is None:
        _start_servers()
    folder = Path(os.environ["TEST_FOLDER"]) / (worker or "main")
    (folder / "static").mkdir(parents=True, exist_ok=True)
    if template := os.environ.get("TEST_TEMPLATE"):  # a data folder with a migrated database: `make prove`
        shutil.copyfile(Path(template) / "rooftally.sqlite3", folder / "test.sqlite3")
    os.environ["ROOFTALLY_DATA_DIR"] = str(folder)
    for name in ("ledger-key", "address-keys"):  # what needs no database needs a key all the same
        (folder / name).write_text(f"{name} of one run of the tests".replace(" ", "-"))
    if "TEST_REDIS" in os.environ:
        number = 0 if worker is None else int(worker.removeprefix("gw")) + 1
        os.environ["ROOFTALLY_REDIS_URL"] = f"{os.environ['TEST_REDIS']}/{number % 16}"


def _start_servers() -> None:
    for name in [name for name in os.environ if name.startswith("ROOFTALLY_")]:
        del os.environ[name]  # a developer's own settings are not what is tested
    folder = scratch_folder()
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    os.environ["TEST_FOLDER"] = str(folder)
    which = os.environ.setdefault("TEST_DATABASE", "sqlite")
    if which == "postgresql":
        postgres = Postgres()
        atexit.register(postgres.stop)
        redis = Redis()
        atexit.register(redis.stop)
        os.environ["TEST_REDIS"] = redis.url().rsplit("/", 1)[0]
        os.environ["ROOFTALLY_DATABASE_URL"] = postgres.url
        os.environ["ROOFTALLY_DATABASE_POOL"] = "0"
    elif which != "sqlite":
        raise pytest.UsageError(f"TEST_DATABASE takes sqlite or postgresql, not “{which}”.")


_prepare_environment()


def pytest_addoption(parser: pytest.Parser) -> None:
    """The selection for the second run."""
    parser.addoption("--only-database", action="store_true", help="run only the tests that use the database")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """With ``--only-database`` keep what uses the database and does not bring servers or a browser of its own."""
    if not config.getoption("--only-database"):
        return
    kept: list[pytest.Item] = []
    dropped: list[pytest.Item] = []
    for item in items:
        (kept if _runs_twice(item) else dropped).append(item)
    config.hook.pytest_deselected(items=dropped)
    items[:] = kept


def _runs_twice(item: pytest.Item) -> bool:
    if item.get_closest_marker("once") or item.get_closest_marker("scale") or item.get_closest_marker("browser"):
        return False
    return bool(item.get_closest_marker("django_db") or USES_DATABASE & set(getattr(item, "fixturenames", ())))
