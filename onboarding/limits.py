"""How often something may be tried, counted in the cache that every process shares; and how long an answer takes."""

import time
from collections.abc import Iterator
from contextlib import contextmanager

from django.core.cache import cache

STEADY_SECONDS = 0.25
"""Longer than any of these acts takes by itself; they are limited per client, so that nobody holds threads with it."""


def within(name: str, who: str, *, most: int, seconds: int) -> bool:
    """Count one try of ``name`` by ``who``; False once there were more than ``most`` in ``seconds``.

    The window begins with the first try. A cache that lost its count only forgives.
    """
    key = f"limit:{name}:{who}"
    if cache.add(key, 1, timeout=seconds):
        return True
    try:
        return int(cache.incr(key)) <= most
    except ValueError:  # it ran out between the two
        cache.set(key, 1, timeout=seconds)
        return True


@contextmanager
def steadily() -> Iterator[None]:
    """The block takes the same time whether it found something to do or not, so that timing tells nothing."""
    until = time.monotonic() + STEADY_SECONDS
    try:
        yield
    finally:
        time.sleep(max(0.0, until - time.monotonic()))
