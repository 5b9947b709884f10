"""The shared cache of served mode: it counts sign-in attempts and remembers what was worked out
of lots, and life goes on without it.
"""

from __future__ import annotations

import logging
from typing import Any

from django.core.cache.backends.redis import RedisCache
from redis.exceptions import RedisError

log = logging.getLogger(__name__)


class ForgivingRedisCache(RedisCache):
    """While Redis is away, behaves as if nothing were cached instead of failing the request."""

    def get(self, key, default=None, version=None) -> Any:
        try:
            return super().get(key, default, version)
        except RedisError as error:
            return _without_redis(error, default)

    def set(self, *args, **kwargs) -> None:
        try:
            super().set(*args, **kwargs)
        except RedisError as error:
            _without_redis(error, None)

    def add(self, *args, **kwargs) -> bool:
        try:
            return super().add(*args, **kwargs)
        except RedisError as error:
            return _without_redis(error, True)

    def incr(self, *args, **kwargs) -> int:
        try:
            return super().incr(*args, **kwargs)
        except RedisError as error:
            return _without_redis(error, 1)

    def get_many(self, keys, version=None) -> Any:
        try:
            return super().get_many(keys, version)
        except RedisError as error:
            return _without_redis(error, {})

    def set_many(self, data, *args, **kwargs) -> Any:
        try:
            return super().set_many(data, *args, **kwargs)
        except RedisError as error:
            return _without_redis(error, list(data))

    def delete(self, *args, **kwargs) -> bool:
        try:
            return super().delete(*args, **kwargs)
        except RedisError as error:
            return _without_redis(error, False)


def _without_redis(error: RedisError, answer: Any) -> Any:
    log.warning(
        "Redis does not answer (%s): sign-in limits are off, and nothing is remembered.",
        type(error).__name__,
    )
    return answer
