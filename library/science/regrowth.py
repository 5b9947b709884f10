"""Whether enough of a lot will be alive to start again from it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from library.science.posterior import LotRecord, weights_of
from library.science.posterior_grid import BETWEEN_TESTS

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

_CHUNK = 256  # lots at a time, as the outlooks
STEPS = 100  # in the share alive, of what a test can tell apart
LEAST_SHARE = 1e-6  # a beta-binomial wants shares between 0 and 1


@dataclass(frozen=True, kw_only=True)
class StartAgain:
    """One question: of so many seeds, will at least ``needed`` be alive on a day of storage?

    Ranges: seeds and needed 0 or more, day 0 or more. Raises ValueError outside them.
    """

    record: LotRecord
    day: float
    seeds: int
    needed: int

    def __post_init__(self) -> None:
        if self.seeds < 0 or self.needed < 0:
            raise ValueError(
                f"Seeds are counted from 0 up, not {self.seeds} of which {self.needed}."
            )
        if not 0 <= self.day < math.inf:
            raise ValueError(f"A day of storage is 0 or later, not {self.day:g}.")


def chances_enough_alive(asked: Sequence[StartAgain]) -> list[float]:
    """Return the chance, 0 to 1, that each lot still has as many living seeds as are needed.

    The share alive is uncertain (the lot's posterior); given the share ``v`` the seeds alive of
    ``n`` are binomial, so that the chance of at least ``k`` is the regularised incomplete beta
    function I_v(k, n - k + 1), averaged over the posterior. Source: the posterior's model; the
    identity is e.g. Johnson, Kotz & Kemp 1992, Univariate Discrete Distributions (from memory).
    """
    found: list[float] = []
    for first in range(0, len(asked), _CHUNK):
        found += _of_chunk(asked[first : first + _CHUNK])
    return found


@dataclass(frozen=True, kw_only=True)
class TestShows:
    """What one outcome of a test would say: how likely it is, and what would then be believed.

    ``chance`` and ``alive`` (the chance that enough will be alive) are from 0 to 1.
    """

    __test__ = False  # not a test class, whatever its name says to pytest

    chance: float
    alive: float


def outcomes_of_test(asked: StartAgain, *, tested_on: float, seeds: int) -> list[TestShows]:
    """Return what a germination test would show, for each number of seeds that may sprout.

    ``seeds`` are sown on a day of storage, ``tested_on``, and used up: so many fewer are left.
    A count has the chance that the lot's posterior gives it, a mixture of beta-binomials as
    tests of one lot vary among themselves; ``alive`` follows by Bayes' rule. In ascending order
    of the count; the chances sum to 1, and the mean of ``alive`` is what is believed now of the
    seeds that are left. Ranges: seeds 1 up to those of the lot, the test no later than the day
    asked about. Raises ValueError outside them.
    """
    if not 1 <= seeds <= asked.seeds:
        raise ValueError(f"A test takes 1 to {asked.seeds} seeds, not {seeds}.")
    if not 0 <= tested_on <= asked.day:
        raise ValueError(f"A test is no later than day {asked.day:g}, not {tested_on:g}.")
    import numpy as np
    from scipy.stats import betabinom

    left = replace(asked, seeds=asked.seeds - seeds)
    shares = _alive([asked.record], [tested_on])[0]
    weights, means, enough = _by_share(
        weights_of([asked.record])[0], shares, _enough([left])[0]
    )
    loose = (1 - BETWEEN_TESTS) / BETWEEN_TESTS
    counts = np.arange(seeds + 1)[:, None]
    joint = weights * betabinom.pmf(counts, seeds, means * loose, (1 - means) * loose)
    chances, then = joint.sum(axis=1), (joint * enough).sum(axis=1)
    return [
        TestShows(chance=chance, alive=min(1.0, alive / chance) if chance > 0 else 0.0)
        for chance, alive in zip((chances / chances.sum()).tolist(), then.tolist(), strict=True)
    ]


def _by_share(weights: Array, shares: Array, enough: Array) -> tuple[Array, Array, Array]:
    """Cells that are alike in the share alive taken together: what a test sees is no more.

    The weight, the mean share and the mean of ``enough`` of each hundredth that has weight.
    """
    import numpy as np

    step = np.minimum((shares * STEPS).astype(int), STEPS - 1)
    whole, share, well = (
        np.bincount(step, values, STEPS)
        for values in (weights, weights * shares, weights * enough)
    )
    some = whole > 0
    means = np.clip(share[some] / whole[some], LEAST_SHARE, 1 - LEAST_SHARE)
    return whole[some], means, well[some] / whole[some]


def _of_chunk(asked: Sequence[StartAgain]) -> list[float]:
    import numpy as np

    weights = weights_of([one.record for one in asked])
    means = (weights * _enough(asked)).sum(axis=1)
    chances: list[float] = np.clip(means, 0, 1).tolist()
    return chances


def _alive(records: Sequence[LotRecord], days: Sequence[float]) -> Array:
    """For each lot and each cell of the grid the share that is alive on its day."""
    import numpy as np
    from scipy.special import ndtr

    from library.science.posterior_grid import the_grid

    grid = the_grid()
    losses = np.array([one.curve.at(day) for one, day in zip(records, days, strict=True)])
    shares: Array = ndtr(grid.initials - grid.rates * losses[:, None])
    return shares


def _enough(asked: Sequence[StartAgain]) -> Array:
    """For each question and each cell the chance that enough is alive."""
    import numpy as np
    from scipy.special import betainc

    alive = _alive([one.record for one in asked], [one.day for one in asked])
    seeds = np.array([one.seeds for one in asked], dtype=float)[:, None]
    needed = np.array([one.needed for one in asked], dtype=float)[:, None]
    enough = betainc(np.maximum(needed, 1), np.maximum(seeds - needed + 1, 1), alive)
    chances: Array = np.where(needed <= 0, 1.0, np.where(seeds < needed, 0.0, enough))
    return chances
