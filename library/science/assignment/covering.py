"""How many varieties can have a grower at all, and plans made of other plans."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Set

from library.science.assignment.pairs import Pairs
from library.science.assignment.program import Program
from library.science.assignment.season import Pair
from library.science.assignment.sheet import everyone_first

# So many pairs of the varieties with the fewest gardens, to prove who must go without.
HARDEST = 2_500
MANY_GARDENS = 60  # of a variety that could grow in so many, only the likely ones are looked at
SECONDS = 4.0


def most_covered(pairs: Pairs, seconds: float) -> tuple[int, frozenset[Pair] | None]:
    """So many varieties can have a grower at most, and a plan of about so many if one is found.

    Whoever has no grower is nearly always among the varieties with the fewest gardens, and
    these stand in one another's way. Without the others a plan only covers more, so what the
    solver proves of these holds for all.
    """
    hard, most = _hardest(pairs), len(pairs.by_variety)
    if not hard:
        return most, None
    answer = Program(pairs, hard).most_covered(seconds)
    if math.isfinite(answer.bound):
        others = most - len({variety for variety, _garden in hard})
        most = min(most, others + math.floor(answer.bound))
    if answer.chosen is None:
        return most, None
    return most, everyone_first(pairs, answer.chosen).chosen


def _hardest(pairs: Pairs) -> frozenset[Pair]:
    """All pairs of the varieties with the fewest gardens, and what is pinned."""
    gardens = pairs.by_variety
    hard = set(pairs.season.pinned)
    for variety in sorted(gardens, key=lambda v: (len(gardens[v]), v)):
        if len(hard) + len(gardens[variety]) > HARDEST:
            break
        hard.update((variety, garden) for garden in gardens[variety])
    return frozenset(hard)


def repaired(
    pairs: Pairs, plan: Set[Pair], other: Set[Pair], likely: Set[Pair], seconds: float
) -> frozenset[Pair]:
    """The plan, changed until as many varieties have a grower as in the other, if that is
    found. The ``likely`` pairs are those that prices choose now and then.

    A plan rounded from prices is cheap but often leaves one or two varieties without a grower
    that could have one. A small program finds them one among the gardens that could take them:
    what stands there may go elsewhere.
    """
    covered = {variety for variety, _garden in plan}
    if len(covered) >= len({variety for variety, _garden in other}):
        return frozenset(plan)
    free = _around(pairs, plan, pairs.by_variety.keys() - covered, likely)
    answer = Program(pairs, free | plan, kept=plan - free).best(
        len(covered), min(SECONDS, seconds)
    )
    return frozenset(plan) if answer.chosen is None else answer.chosen


def of_both(
    pairs: Pairs, plan: Set[Pair], other: Set[Pair], covered: int, seconds: float
) -> frozenset[Pair] | None:
    """The best that can be put together out of two plans, of which one covers so many.

    Where they differ either may have the better garden; a small program knows which of it goes
    together.
    """
    if plan == other:
        return None
    return Program(pairs, plan | other, kept=plan & other).best(covered, seconds).chosen


def _around(
    pairs: Pairs, plan: Set[Pair], lacking: Set[str], likely: Set[Pair]
) -> frozenset[Pair]:
    """What varieties could grow in, and what those that stand there could grow in instead."""
    of_variety, standing = defaultdict(list), defaultdict(list)
    for variety, garden in likely | plan:
        of_variety[variety].append((variety, garden))
    for variety, garden in plan:
        standing[garden].append(variety)
    free: set[Pair] = set()
    for variety in lacking:
        gardens = pairs.by_variety[variety]
        if len(gardens) > MANY_GARDENS:
            gardens = [garden for _variety, garden in of_variety[variety]]
        for garden in gardens:
            free.add((variety, garden))
            for there in standing[garden]:
                free.update(of_variety[there])
    return frozenset(free)
