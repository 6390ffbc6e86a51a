"""Whether this process lives, and whether it can serve."""

from django.conf import settings
from django.db import DatabaseError, connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils.module_loading import import_string

from fleet.guards import missing_guards


def healthz(request: HttpRequest) -> HttpResponse:
    """200 as long as the process answers."""
    return HttpResponse("ok\n", content_type="text/plain")


def readyz(request: HttpRequest) -> JsonResponse:
    """200 when the database answers, is migrated, has its triggers and its keys; else 503 with what is not."""
    missing = _missing()
    return JsonResponse({"ready": not missing, "missing": missing}, status=503 if missing else 200)


def _missing() -> list[str]:
    from django.db.migrations.executor import MigrationExecutor

    try:
        executor = MigrationExecutor(connection)
        pending = executor.migration_plan(executor.loader.graph.leaf_nodes())
    except DatabaseError:
        return ["database"]
    return ["migrations"] if pending else missing_guards(connection) + _not_in_place()


def _not_in_place() -> list[str]:
    return [told for name in settings.READINESS for told in import_string(name)()]
