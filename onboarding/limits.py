"""How often something may be tried, counted in the cache that every process shares."""

from django.core.cache import cache


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
