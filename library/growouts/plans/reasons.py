"""Why the plan is as it is, worked out once and kept as plain data beside each pair."""

from __future__ import annotations

import math
from typing import Any

from library.science.assignment import Missing, Reason, Remedy, Season, explain, possible_pairs
from library.science.assignment.season import Pair
from library.science.isolation import Technique

Why = dict[str, Any]


def reasons_for(
    season: Season, chosen: frozenset[Pair]
) -> tuple[dict[Pair, Why], dict[str, Why]]:
    """For each chosen pair why this grower, and for each variety without one what stood in the
    way; by their keys. Takes seconds for large seasons.
    """
    told = explain(possible_pairs(season), chosen)
    pairs = {pair: _of_pair(season, reason) for pair, reason in told.reasons.items()}
    left = {one.variety: _of_left_out(one) for one in told.missing if one.growers == 0}
    return pairs, left


def _of_pair(season: Season, why: Reason) -> Why:
    variety, garden = why.pair
    needed = season.variety[variety].crosses_within_m
    stands = [s for s in (why.nearest_own, why.nearest_chosen) if s is not None]
    nearest = min(stands, key=lambda stand: stand.metres, default=None) if needed else None
    return {
        # Where nothing is needed the plants stand as they are.
        "technique": (why.technique or Technique.DISTANCE).value,
        "needs_isolation": needed > 0,
        "success": season.grower_of(garden).success,
        "saves": why.loss_without - why.loss,
        "room_m2": round(why.room_m2, 1),
        "garden_m2": round(why.garden_m2, 1),
        "spare_days": why.spare_days,
        # Rounded down: what is said to be far enough is.
        "nearest_m": None if nearest is None else math.floor(nearest.metres),
        "nearest_is_planned": nearest is not None and nearest.garden is not None,
        "needed_m": needed,
        "alternatives": [
            {
                "garden": other.garden,
                "success": season.grower_of(other.garden).success,
                "loses": other.loss - why.loss,
                "clash": other.clash.value if other.clash else None,
            }
            for other in why.alternatives
        ],
    }


def _of_left_out(why: Missing) -> Why:
    """``remedies`` the cheapest first, one of each kind."""
    return {
        "in_the_way": {kind.value: number for kind, number in why.in_the_way.items()},
        "remedies": [_of_remedy(remedy) for remedy in why.remedies],
    }


def _of_remedy(remedy: Remedy) -> Why:
    moved, to = remedy.moved or (None, None)
    return {
        "kind": remedy.kind.value,
        "garden": remedy.pair[1],
        "more_m2": remedy.more_m2,
        "more_next_m2": remedy.more_next_m2,
        "techniques": [technique.value for technique in remedy.techniques],
        "plantings": len(remedy.plantings),
        "moved": list(moved) if moved else None,
        "to": to,
    }
