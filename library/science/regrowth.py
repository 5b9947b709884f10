"""Whether enough of a lot will be alive to start again from it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from library.science.posterior import LotRecord, weights_of

_CHUNK = 256  # lots at a time, as the outlooks


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


def _of_chunk(asked: Sequence[StartAgain]) -> list[float]:
    import numpy as np
    from scipy.special import betainc, ndtr

    from library.science.posterior_grid import the_grid

    grid = the_grid()
    weights = weights_of([one.record for one in asked])
    losses = np.array([one.record.curve.at(one.day) for one in asked])
    alive = ndtr(grid.initials - grid.rates * losses[:, None])
    seeds = np.array([one.seeds for one in asked], dtype=float)[:, None]
    needed = np.array([one.needed for one in asked], dtype=float)[:, None]
    enough = betainc(np.maximum(needed, 1), np.maximum(seeds - needed + 1, 1), alive)
    enough = np.where(needed <= 0, 1.0, np.where(seeds < needed, 0.0, enough))
    chances: list[float] = np.clip((weights * enough).sum(axis=1), 0, 1).tolist()
    return chances
