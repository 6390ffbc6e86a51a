"""The register's background work: thin wake-ups; the rows say what is due."""

from celery import shared_task

from fleet.search.sweep import sweep_marks


@shared_task(name="fleet.tasks.sweep_search_marks", ignore_result=True)  # type: ignore[untyped-decorator]  # celery ships no types
def sweep_search_marks() -> None:
    """Index sites whose rows changed by a path that did not."""
    sweep_marks()
