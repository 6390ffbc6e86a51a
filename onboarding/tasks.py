"""Background work of onboarding: each task only says "look what is due"; it may run twice, late, or never."""

import mmap

from celery import shared_task
from celery.signals import worker_shutting_down
from celery.worker import state

from onboarding.operations import sending
from onboarding.operations.deliveries import wake_sender
from onboarding.operations.erasure import forget_address_keys
from onboarding.operations.invitation_sweep import forget_origins, sweep
from onboarding.operations.report_polling import poll_if_set


@shared_task(name="onboarding.tasks.sweep_deliveries", ignore_result=True)  # type: ignore[untyped-decorator]  # celery ships no types
def sweep_deliveries() -> None:
    """Send mail for a few seconds, and ask to be woken again while more is due."""
    if sending.sweep_deliveries(told_to_stop=_told_to_stop):
        wake_sender()


_stopping = mmap.mmap(-1, 1)  # memory that the worker's main process shares with the processes it forks


@worker_shutting_down.connect  # type: ignore[untyped-decorator]  # as above
def _tell_to_stop(**_signal: object) -> None:
    """SIGTERM reaches the worker's main process alone; its pool is to end soon too."""
    _stopping[0] = 1


def _told_to_stop() -> bool:
    return _stopping[0] == 1 or state.should_stop is not None


@shared_task(name="onboarding.tasks.poll_mail_reports", ignore_result=True)  # type: ignore[untyped-decorator]  # as above
def poll_mail_reports() -> None:
    """Bounces and complaints that lie in the box of the settings."""
    poll_if_set()


@shared_task(name="onboarding.tasks.sweep_invitations", ignore_result=True)  # type: ignore[untyped-decorator]  # as above
def sweep_invitations() -> None:
    """Expiry, reminders, permissions whose time is over."""
    sweep()


@shared_task(name="onboarding.tasks.forget_origins", ignore_result=True)  # type: ignore[untyped-decorator]  # as above
def forget_old_origins() -> None:
    """From where old consent entries came, and by what erased owners' addresses are known, once their time is over."""
    while forget_origins():
        pass
    forget_address_keys()
