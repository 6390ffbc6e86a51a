"""Run as a process of its own beside the senders: loads, looks and lets time pass, one line of JSON a line asked."""

import json
import sys
from collections.abc import Callable
from typing import Any

import django


def states() -> dict[str, Any]:
    """Deliveries by state; the Message-IDs of sent and unknown ones; withdrawals that came before a leave."""
    from collections import Counter

    from onboarding.models import Delivery, Invitation

    rows = list(Delivery.objects.filter(stream="invitation").values_list("message_id", "state"))
    return {
        "states": Counter(state for _message_id, state in rows),
        "sent": [message_id for message_id, state in rows if state == "sent"],
        "unknown": [message_id for message_id, state in rows if state == "unknown"],
        "invitations": Counter(Invitation.objects.values_list("state", flat=True)),
        "late": late(),
    }


def late() -> list[int]:
    """Deliveries whose leave was given after a withdrawal of the same owner at the same site. Both times are read while
    the ledger's head is locked, so their order is the order of the commits.
    """
    from onboarding.models import ConsentEntry, Delivery

    withdrawn = {
        (site, owner): at
        for site, owner, at in ConsentEntry.objects.filter(state="withdrawn", purpose="contact").values_list(
            "site_id", "owner_id", "at"
        )
    }
    left = Delivery.objects.filter(transmitting_at__isnull=False, stream="invitation")
    return [
        pk
        for pk, site, owner, at in left.values_list("pk", "site_id", "owner_id", "transmitting_at")
        if at is not None and (site, owner) in withdrawn and at > withdrawn[(site, owner)]
    ]


def pass_time() -> None:
    """What waits for a later try is due now, and pauses are over. Leases are left alone."""
    from django.utils import timezone

    from onboarding.models import Delivery, MailDomain

    now = timezone.now()
    Delivery.objects.filter(state="queued", not_before__gt=now).update(not_before=now)
    MailDomain.objects.filter(paused_until__gt=now).update(paused_until=now)


def end_leases() -> None:
    """No sender lives any more: every lease has run out."""
    from datetime import timedelta

    from django.utils import timezone

    from onboarding.models import Delivery

    past = timezone.now() - timedelta(seconds=1)
    Delivery.objects.filter(claimed_until__isnull=False).update(claimed_until=past)


def recover() -> None:
    """What the next sender would do first."""
    from onboarding.operations.claiming import recover_stale

    recover_stale()


def main() -> None:
    """Answer until the input ends. A line is a JSON list: a command and its arguments."""
    from django.db import close_old_connections, connection

    from tests.soak.load import load

    commands: dict[str, Callable[..., Any]] = {
        "states": states,
        "pass_time": pass_time,
        "end_leases": end_leases,
        "recover": recover,
        "load": load,
    }
    for line in sys.stdin:
        name, *arguments = json.loads(line)
        close_old_connections()
        answer = commands[name](*arguments)
        connection.close()
        print(json.dumps(answer), flush=True)


if __name__ == "__main__":
    django.setup()
    main()
