"""``make soak``: the long form, on both runs. ``make soak ARGS="--run embedded --invitations 1000"`` for a part."""

import argparse
import sys

from tests.soak.plan import Plan
from tests.soak.run import Soak


def main() -> int:
    """Soak, say the figures, and end with 1 if something that must hold did not."""
    parser = argparse.ArgumentParser(prog="make soak")
    parser.add_argument("--run", choices=("embedded", "scale", "both"), default="both")
    parser.add_argument("--invitations", type=int, default=10_000)
    parser.add_argument("--kills", type=int, default=20)
    parser.add_argument("--withdrawals", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    faults: list[str] = []
    for scale in {"embedded": (False,), "scale": (True,), "both": (False, True)}[chosen.run]:
        plan = Plan(
            scale=scale,
            invitations=chosen.invitations,
            kills=chosen.kills,
            withdrawals=chosen.withdrawals,
            redis_kills=2 if scale else 0,
            database_restarts=1 if scale else 0,
            seed=chosen.seed,
        )
        name = "at scale" if scale else "embedded"
        soak = Soak(plan, lambda text, name=name: print(f"soak {name}: {text}", flush=True))  # type: ignore[misc]
        try:
            found = soak.run()
        finally:
            soak.close()
        print(f"soak {name}: {found.as_json()}", flush=True)
        faults += [f"{name}: {fault}" for fault in found.faults() + found.timed_faults()]
    for fault in faults:
        print(f"soak: {fault}")
    print(f"soak: {'failed' if faults else 'all held'}")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main())
