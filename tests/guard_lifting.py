"""Takes the append-only guards away, as somebody with the database's own tools could. Only tests know how."""

from django.db import connection

from fleet.guards import Guard, declared_guards


def drop_guards() -> None:
    """No table refuses anything until ``apply_guards`` or the end of the test's transaction."""
    with connection.cursor() as cursor:
        for guard in [each for each in declared_guards() if isinstance(each, Guard)]:
            for name in (*guard.triggers, f"{guard.table}_keep_truncate"):
                suffix = "" if connection.vendor == "sqlite" else f" ON {guard.table}"
                cursor.execute(f"DROP TRIGGER IF EXISTS {name}{suffix}")
