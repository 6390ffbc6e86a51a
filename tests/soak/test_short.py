"""The short form of ``make soak``: the same faults, fewer of them."""

from __future__ import annotations

import pytest

from tests.soak.plan import Found, Plan
from tests.soak.run import Soak


def soak(plan: Plan) -> Found:
    running = Soak(plan)
    try:
        return running.run()
    finally:
        running.close()


@pytest.mark.slow
@pytest.mark.scale
@pytest.mark.timeout(420)
@pytest.mark.parametrize(
    "plan",
    [
        Plan(scale=False, invitations=60, kills=2, withdrawals=8, delay=0.03),
        Plan(scale=True, invitations=60, kills=2, withdrawals=8, redis_kills=1, database_restarts=1, delay=0.03),
    ],
    ids=["embedded", "at scale"],
)
def test_nothing_is_lost_doubled_or_sent_without_leave(plan):
    found = soak(plan)
    assert found.faults() == []
    assert found.kills == plan.kills
    assert found.withdrawn >= 1
    assert found.arrived >= 40
