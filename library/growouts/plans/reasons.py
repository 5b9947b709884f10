"""Why the plan is as it is, worked out once and kept as plain data beside each pair."""

from __future__ import annotations

from typing import Any

from library.science.assignment import Season
from library.science.assignment.explain import (
    Explainer,
    Freeing,
    WhyGrower,
    WhyLeftOut,
    counted,
)
from library.science.assignment.season import Pair
from library.science.isolation import Technique

Why = dict[str, Any]


def reasons_for(
    season: Season, chosen: frozenset[Pair]
) -> tuple[dict[Pair, Why], dict[str, Why]]:
    """For each chosen pair why this grower, and for each variety without one what stood in the
    way; by their keys.
    """
    explainer = Explainer(season, chosen)
    pairs = {(v, g): _of_pair(explainer.why_grower(v, g)) for v, g in chosen}
    left = {v: _of_left_out(explainer.why_left_out(v)) for v in explainer.left_out()}
    return pairs, left


def _of_pair(why: WhyGrower) -> Why:
    return {
        # Where nothing is needed the plants stand as they are.
        "technique": (why.technique or Technique.DISTANCE).value,
        "needs_isolation": why.technique is not None,
        "success": why.success,
        "saves": why.saves,
        "room_m2": round(why.room_m2, 1),
        "garden_m2": round(why.garden_m2, 1),
        "spare_days": why.spare_days,
        "nearest_m": None if why.nearest_m is None else round(why.nearest_m),
        "needed_m": why.needed_m,
        "alternatives": [
            {
                "garden": other.garden,
                "success": other.success,
                "clash": other.clash.value if other.clash else None,
            }
            for other in why.alternatives
        ],
    }


def _of_left_out(why: WhyLeftOut) -> Why:
    return {
        "obstacles": counted(why.obstacles),
        "clashes": counted(why.clashes),
        "freeing": _of_freeing(why.freeing),
    }


def _of_freeing(freeing: Freeing | None) -> Why | None:
    if freeing is None:
        return None
    return {
        "remedy": freeing.remedy.value,
        "garden": freeing.garden,
        "amount": round(freeing.amount, 1),
        "moved": list(freeing.moved) if freeing.moved else None,
        "to": freeing.to,
    }
