"""A plan out of what the bound's prices chose on average; where a plan loses against them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from library.science.assignment.ascent import Ascent
from library.science.assignment.frame import Array
from library.science.assignment.season import Pair
from library.science.assignment.sheet import Sheet


def rounded(ascent: Ascent) -> frozenset[Pair]:
    """Pair by pair, the most often chosen first, as long as nothing clashes; then whatever
    still saves more than it costs at the prices, and at last a grower for whoever has none.
    """
    frame, relaxed = ascent.frame, ascent.relaxed
    sheet = Sheet(frame.pairs, frame.pairs.season.pinned)
    each = ascent.kept[0] + relaxed.in_groups @ ascent.kept[1]
    left = frame.stake.copy()
    saved = left[relaxed.variety] * (1 - frame.fail[relaxed.garden])
    order = np.lexsort((each - saved, -np.round(ascent.average, 2)))
    for worth_it in (True, False):
        for i in order:
            v, g = relaxed.variety[i], relaxed.garden[i]
            variety, garden = frame.varieties[v], frame.gardens[g]
            lacking = not sheet.growing[variety]
            saves = left[v] * (1 - frame.fail[g]) > each[i]
            if (saves if worth_it else lacking) and sheet.clash(variety, garden) is None:
                sheet.add(variety, garden)
                left[v] *= frame.fail[g]
    return _filled(ascent, sheet)


def _filled(ascent: Ascent, sheet: Sheet) -> frozenset[Pair]:
    """More growers wherever one still fits, the best first: it costs hardly anything."""
    frame, season = ascent.frame, ascent.frame.pairs.season
    best_first = np.argsort(frame.fail, kind="stable")
    for v in np.argsort(-frame.stake, kind="stable"):
        variety = frame.varieties[v]
        room_for = season.variety[variety].most_growers - len(sheet.growing[variety])
        for g in best_first[frame.free[v, best_first]] if room_for > 0 else ():
            garden = frame.gardens[g]
            if sheet.clash(variety, garden) is None:
                resolve = sum(season.grower_of(one).resolve for one in sheet.growing[variety])
                saved = season.variety[variety].stake * np.exp(-resolve) * (1 - frame.fail[g])
                if saved <= season.fairness * sheet.load[season.garden[garden].grower]:
                    continue
                sheet.add(variety, garden)
                room_for -= 1
                if room_for == 0:
                    break
    return sheet.chosen


@dataclass(frozen=True)
class Regret:
    """How much of what a plan costs beyond the bound falls to each variety and garden."""

    of_variety: dict[str, float]
    of_garden: dict[str, float]


def regret(ascent: Ascent, chosen: frozenset[Pair]) -> Regret:
    """At the prices of the best proof."""
    frame, proof = ascent.frame, ascent.best
    number = {key: i for i, key in enumerate(frame.varieties)}
    place = {key: i for i, key in enumerate(frame.gardens)}
    free = [(number[v], place[g]) for v, g in chosen if frame.free[number[v], place[g]]]
    pays, earns = frame.stake.copy(), np.zeros(len(frame.wish))
    width = len(frame.gardens)
    for v, g in free:
        pays[v] *= frame.fail[g]
    for v, g in free:
        pays[v] += proof.prices[v * width + g] + proof.rent[v, g]
        earns[frame.owner[g]] += proof.prices[v * width + g]
    lost: Array = np.maximum(pays - proof.paid, 0)
    missed: Array = np.maximum(proof.earned - earns, 0)[frame.owner]
    return Regret(
        dict(zip(frame.varieties, lost.tolist(), strict=True)),
        dict(zip(frame.gardens, missed.tolist(), strict=True)),
    )
