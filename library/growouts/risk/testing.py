"""What a test of a variety's best lot could show, and what that would change."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from library.germination.many import Shelf
from library.germination.method import suggested_size
from library.growouts.risk.lots import start_again
from library.growouts.risk.reading import AtRisk
from library.science.regrowth import TestShows, outcomes_of_test

BAD = 0.5  # under so much chance of having enough alive, a lot would be grown out


def with_tests(found: Sequence[AtRisk], *, on: dt.date) -> list[AtRisk]:
    """The same, each knowing what a test of its best lot may show; a few queries for all.

    It takes a few milliseconds for each, so that it is asked for what is shown and not for a
    whole library. The test is of the usual size for the lot, made on that day.
    """
    best = {one.variety.pk: lot for one in found if (lot := one.best_lot)}
    known = {
        one.lot.pk: one
        for one in Shelf(on).known_of([lot.lot for lot in best.values()])
        if one.record is not None
    }
    shown = []
    for one in found:
        lot = best.get(one.variety.pk)
        if lot is None or lot.lot.pk not in known:
            shown.append(one)
            continue
        lots = known[lot.lot.pk]
        outcomes = outcomes_of_test(
            start_again(lots, lot.needed, on=on, years=one.years),
            tested_on=lots.viability.day(on),
            seeds=suggested_size(lot.lot).seeds,
        )
        shown.append(replace(one, tested=_good_and_bad(outcomes)))
    return shown


def _good_and_bad(outcomes: Sequence[TestShows]) -> tuple[tuple[float, float], ...]:
    """The outcomes in two heaps: their chance, and the mean chance of enough alive in each.

    The chance of loss is linear in that of one lot, so nothing is lost by it. None where every
    outcome says the same: such a test would only cost seed.
    """
    heaps = []
    for heap in (
        [one for one in outcomes if one.alive >= BAD],
        [one for one in outcomes if one.alive < BAD],
    ):
        chance = sum(one.chance for one in heap)
        if chance > 0:
            heaps.append((chance, sum(one.chance * one.alive for one in heap) / chance))
    return tuple(heaps) if len(heaps) == 2 else ()
