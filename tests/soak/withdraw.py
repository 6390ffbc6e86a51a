"""Run as a process of its own: owners take their permission back by the one-click act while the sender is at work."""

import random
import sys
import time

import django


def main(withdrawals: int, seconds: float, seed: int) -> None:
    """Withdraw for deliveries that are about to leave, spread over ``seconds``; one line each, after its commit."""
    from django.db import Error, close_old_connections, connection

    from onboarding.models import Delivery
    from onboarding.operations.optouts import opt_out

    draw = random.Random(seed)
    done: set[int] = set()
    ends = time.monotonic() + seconds * 3
    while len(done) < withdrawals and time.monotonic() < ends:
        try:
            front = list(
                Delivery.objects.filter(
                    state__in=("queued", "claimed"), stream="invitation", to_address__startswith="fine"
                )
                .exclude(pk__in=done)
                .select_related("company", "owner")
                .order_by("not_before", "pk")[:12]
            )
            if not front:
                break
            delivery = draw.choice(front)
            opt_out(delivery=delivery)
        except Error:
            close_old_connections()
            connection.close()
            time.sleep(0.2)
            continue
        done.add(delivery.pk)
        print(delivery.pk, time.time(), flush=True)
        time.sleep(draw.uniform(0, 2 * seconds / withdrawals))


if __name__ == "__main__":
    django.setup()
    main(int(sys.argv[1]), float(sys.argv[2]), int(sys.argv[3]))
