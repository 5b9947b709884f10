"""Where a curve is computed: close together where it bends, far apart where it is straight."""

from __future__ import annotations

import heapq
import itertools
import math
from collections.abc import Callable, Iterable

from library.science.posterior import ViabilityOn

MOST = 60
TOLERANCE = 0.003  # of the share alive: less than the thickness of the line


def sampled(
    curve: Callable[[float], ViabilityOn],
    fixed: Iterable[float],
    *,
    most: int = MOST,
    tolerance: float = TOLERANCE,
) -> list[ViabilityOn]:
    """The curve at the fixed days and at those between where straight lines would be wrong.

    At most ``most`` days in all, but never fewer than the fixed ones. The stretch that is
    worst drawn is halved first, so that a steep fall gets the days that a plateau spares.
    """
    points = {day: curve(day) for day in sorted(set(fixed))}
    days = list(points)
    bent: list[tuple[float, float, float, float]] = []

    def halve(left: float, right: float) -> None:
        if right - left < 2 or len(points) >= most:
            return
        middle = (left + right) // 2  # a whole day, so that it has a date
        points[middle] = curve(middle)
        # Half of a long stretch may look straight by chance, where the curve turns twice.
        is_long = right - left > (days[-1] - days[0]) / 4
        off = math.inf if is_long else _off(points[left], points[middle], points[right])
        if off > tolerance:
            heapq.heappush(bent, (-off, left, middle, right))

    for left, right in itertools.pairwise(days):
        halve(left, right)
    while bent and len(points) < most:
        _, left, middle, right = heapq.heappop(bent)
        halve(left, middle)
        halve(middle, right)
    return [points[day] for day in sorted(points)]


def _off(left: ViabilityOn, middle: ViabilityOn, right: ViabilityOn) -> float:
    """How far the middle lies from the straight line between its neighbours."""
    return max(
        abs(getattr(middle, name) - (getattr(left, name) + getattr(right, name)) / 2)
        for name in ("low", "median", "high")
    )
