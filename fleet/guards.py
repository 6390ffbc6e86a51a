"""What the database holds beside Django's own tables, declared once and applied after every migration.

First of all the append-only tables: triggers that refuse UPDATE and DELETE. SQLite rebuilds a table silently without
its triggers when a column is altered, so they are applied again on every ``post_migrate``; a system check and
``/readyz`` fail when one is missing. The one way around them is the redaction of secrets, which is audited.
"""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Protocol

from django.conf import settings
from django.core.checks import CheckMessage, Error
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper
from django.utils.module_loading import import_string


class Declared(Protocol):
    """Triggers or tables that must stand in the database."""

    @property
    def table(self) -> str:
        """The table of a migration that must exist before the statements can run."""

    def names(self, vendor: str) -> tuple[str, ...]:
        """The names of the triggers, tables and indexes that must be found afterwards."""

    def statements(self, vendor: str) -> list[str]:
        """What puts them there; may run any number of times."""


@dataclass(frozen=True)
class Guard:
    """A table whose rows are never changed or removed.

    ``only_when`` narrows it: an SQL condition on the row as it was (written with ``OLD.``); empty guards every row.
    """

    table: str
    only_when: str = ""

    @property
    def triggers(self) -> tuple[str, ...]:
        """The names of the triggers that the guard consists of on every database."""
        return (f"{self.table}_keep_update", f"{self.table}_keep_delete")

    def names(self, vendor: str) -> tuple[str, ...]:
        """The names of the triggers on this database."""
        return self.triggers if vendor == "sqlite" else (*self.triggers, f"{self.table}_keep_truncate")

    def statements(self, vendor: str) -> list[str]:
        """The statements that create the triggers anew."""
        return _sqlite(self) if vendor == "sqlite" else _postgresql(self)


def append_only_tables() -> list[Guard]:
    """The register's own append-only tables."""
    return [Guard("fleet_scan"), Guard("fleet_fieldrecord"), Guard("fleet_auditentry")]


def declared_guards() -> list[Declared]:
    """Everything declared in the house: what the functions named in ``settings.DATABASE_GUARDS`` declare."""
    return [guard for name in settings.DATABASE_GUARDS for guard in import_string(name)()]


def apply_guards(*, using: str = "default", **_signal: Any) -> None:
    """Create (or create anew) all that is declared and whose table exists. Also the ``post_migrate`` receiver."""
    connection = connections[using]
    present = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for guard in declared_guards():
            if guard.table in present:
                for statement in guard.statements(connection.vendor):
                    cursor.execute(statement)


@contextmanager
def lifted_for_redaction(table: str) -> Iterator[None]:
    """Let rows of an append-only table be changed within the caller's transaction, and guard them again after it.

    For the declared, audited redaction of secrets alone (:mod:`fleet.operations.redaction`): where the transaction is
    rolled back or the process dies, both databases restore the trigger with it.
    """
    guard = next(guard for guard in append_only_tables() if guard.table == table)
    connection = connections["default"]
    with connection.cursor() as cursor:
        on_table = "" if connection.vendor == "sqlite" else f" ON {table}"
        cursor.execute(f"DROP TRIGGER {guard.triggers[0]}{on_table}")
        yield
        for statement in guard.statements(connection.vendor):
            cursor.execute(statement)


def missing_guards(connection: BaseDatabaseWrapper) -> list[str]:
    """The names of the triggers and tables that should stand in the database and do not, or are switched off."""
    query = (
        "SELECT name FROM sqlite_master"
        if connection.vendor == "sqlite"
        else "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D' "
        "UNION ALL SELECT relname FROM pg_class WHERE relkind IN ('r', 'i')"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        standing = {row[0] for row in cursor.fetchall()}
    expected = [name for guard in declared_guards() for name in guard.names(connection.vendor)]
    return sorted(name for name in expected if name not in standing)


def check_guards(app_configs: Any = None, databases: Iterable[str] | None = None, **_kwargs: Any) -> list[CheckMessage]:
    """The system check (database tag): one error naming every missing trigger."""
    missing = [name for alias in databases or [] for name in _missing_once_migrated(connections[alias])]
    if not missing:
        return []
    return [
        Error(
            f"Missing in the database: {', '.join(missing)}.",
            hint="Run `manage.py migrate`; it puts them back.",
            id="fleet.E001",
        )
    ]


def _missing_once_migrated(connection: BaseDatabaseWrapper) -> list[str]:
    present = set(connection.introspection.table_names())
    if not all(guard.table in present for guard in declared_guards()):
        return []  # not migrated yet; `migrate` runs this very check before it makes the tables
    return missing_guards(connection)


def _sqlite(guard: Guard) -> list[str]:
    when = f"WHEN {guard.only_when} " if guard.only_when else ""
    statements = []
    for name, verb in zip(guard.triggers, ("UPDATE", "DELETE"), strict=True):
        statements += [
            f"DROP TRIGGER IF EXISTS {name}",
            f"CREATE TRIGGER {name} BEFORE {verb} ON {guard.table} {when}"
            f"BEGIN SELECT RAISE(ABORT, 'append-only: {guard.table}'); END",
        ]
    return statements


def _postgresql(guard: Guard) -> list[str]:
    condition = guard.only_when or "TRUE"
    update, delete = guard.triggers
    return [
        f"CREATE OR REPLACE FUNCTION {guard.table}_keep() RETURNS trigger LANGUAGE plpgsql AS $keep$ "
        f"BEGIN IF TG_OP = 'TRUNCATE' THEN RAISE EXCEPTION 'append-only: {guard.table}' "
        "USING ERRCODE = 'integrity_constraint_violation'; END IF; "
        f"IF {condition} THEN RAISE EXCEPTION 'append-only: {guard.table}' "
        "USING ERRCODE = 'integrity_constraint_violation'; END IF; "
        "IF TG_OP = 'DELETE' THEN RETURN OLD; END IF; RETURN NEW; END $keep$",
        f"CREATE OR REPLACE TRIGGER {update} BEFORE UPDATE ON {guard.table} "
        f"FOR EACH ROW EXECUTE FUNCTION {guard.table}_keep()",
        f"CREATE OR REPLACE TRIGGER {delete} BEFORE DELETE ON {guard.table} "
        f"FOR EACH ROW EXECUTE FUNCTION {guard.table}_keep()",
        f"CREATE OR REPLACE TRIGGER {guard.table}_keep_truncate BEFORE TRUNCATE ON {guard.table} "
        f"FOR EACH STATEMENT EXECUTE FUNCTION {guard.table}_keep()",
    ]
