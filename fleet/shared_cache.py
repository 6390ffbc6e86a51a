"""The cache that processes share through Redis. It holds counts and marks, and nothing in it is the truth.

So no page fails or waits for it: while Redis is away or will not do it (its memory is full, it still reads its file),
every question is answered as an empty cache would, and for a few seconds nobody asks again.
"""

import logging
import time
from collections.abc import Callable
from typing import Any, ClassVar

from django.core.cache.backends.redis import RedisCache, RedisCacheClient
from redis.exceptions import RedisError

PATIENCE = 0.5
"""Seconds to wait for a connection and for an answer."""
LEFT_ALONE = 5.0
"""Seconds in which this process does not ask a Redis that was away."""
log = logging.getLogger(__name__)


class SharedCacheClient(RedisCacheClient):
    """Django's client, with the answers of an empty cache while Redis is away or refuses."""

    away_until: ClassVar[float] = 0.0

    def __init__(self, servers: list[str], **options: Any) -> None:
        super().__init__(servers, **{"socket_timeout": PATIENCE, "socket_connect_timeout": PATIENCE} | options)

    def add(self, key: Any, value: Any, timeout: Any) -> bool:
        """Whether ``key`` was not there."""
        return bool(self._ask(super().add, True, key, value, timeout))

    def get(self, key: Any, default: Any) -> Any:
        """The value, or ``default``."""
        return self._ask(super().get, default, key, default)

    def set(self, key: Any, value: Any, timeout: Any) -> None:
        """Keep ``value``, if there is somewhere to keep it."""
        self._ask(super().set, None, key, value, timeout)

    def touch(self, key: Any, timeout: Any) -> bool:
        """Whether ``key`` was there."""
        return bool(self._ask(super().touch, False, key, timeout))

    def delete(self, key: Any) -> bool:
        """Whether ``key`` was there."""
        return bool(self._ask(super().delete, False, key))

    def get_many(self, keys: Any) -> dict[Any, Any]:
        """The values of the keys that are there."""
        found: dict[Any, Any] = self._ask(super().get_many, {}, keys)
        return found

    def has_key(self, key: Any) -> bool:
        """Whether ``key`` is there."""
        return bool(self._ask(super().has_key, False, key))

    def incr(self, key: Any, delta: int) -> int:
        """The count after adding ``delta``. Raises ValueError where there is no such count."""
        count = self._ask(super().incr, None, key, delta)
        if count is None:
            raise ValueError(f"Key “{key}” not found.")
        return int(count)

    def set_many(self, data: Any, timeout: Any) -> None:
        """Keep all of ``data``, if there is somewhere to keep it."""
        self._ask(super().set_many, None, data, timeout)

    def delete_many(self, keys: Any) -> None:
        """Forget ``keys``."""
        self._ask(super().delete_many, None, keys)

    def clear(self) -> bool:
        """Whether everything was forgotten."""
        return bool(self._ask(super().clear, False))

    def _ask(self, question: Callable[..., Any], absent: Any, *arguments: Any) -> Any:
        if time.monotonic() < SharedCacheClient.away_until:
            return absent
        try:
            return question(*arguments)
        except RedisError as error:
            SharedCacheClient.away_until = time.monotonic() + LEFT_ALONE
            log.warning("the shared cache is out of reach or full (%s); limits forgive meanwhile", type(error).__name__)
            return absent


class SharedCache(RedisCache):
    """Django's Redis cache by way of the client above."""

    def __init__(self, server: str, params: dict[str, Any]) -> None:
        super().__init__(server, params)
        self._class = SharedCacheClient
