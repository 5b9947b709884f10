"""The community's row, read once while a request is served.

Pages ask for it in the middleware, the templates, the sign-in adapter and the access rules.
Outside of a request (commands, tasks, tests) nothing is held and every question reads it.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from accounts.models import Community

_held: ContextVar[list[Community] | None] = ContextVar("held_community", default=None)


@contextmanager
def one_reading() -> Iterator[None]:
    """Hold the community from its first reading until the end of the block."""
    token = _held.set([])
    try:
        yield
    finally:
        _held.reset(token)


def held_community() -> Community | None:
    held = _held.get()
    return held[0] if held else None


def hold_community(community: Community) -> None:
    held = _held.get()
    if held is not None:
        held[:] = [community]


def let_go() -> None:
    """Forget the reading, because the row was changed."""
    held = _held.get()
    if held is not None:
        held.clear()
