"""What is due of grow-outs: offers to answer and steps that were promised."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from library.hooks import DueItem


def due_items(*, until: dt.date) -> Iterable[DueItem]:
    """Everything of which somebody should know on or before ``until``."""
    return ()
