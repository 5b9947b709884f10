"""The grid on which a lot's posterior is computed, and what can be read off it.

Every cell is one initial viability with one rate. The grid is the same for all lots, so the
loss at which each cell passes a mark, and the order of those losses, are computed once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from typing import TYPE_CHECKING, Any

from library.science.viability import probit

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

# Fresh, sound garden seed: about 93 % on average, 19 lots in 20 between 55 and 99.8 %. Common
# practice, no source.
INITIAL_PROBIT, INITIAL_SPREAD = 1.5, 0.7
# Between tests of one lot. Binomial theory has 0; a genebank that had 641 samples tested again
# without the laboratory knowing found 95 % limits of 63 and 97 at 80 % (Centre for Genetic
# Resources, the Netherlands, 2012, abstract read), which is about 0.04. We take half of that.
BETWEEN_TESTS = 0.02
ACT_BELOW_SHARE_OF_INITIAL = 0.85  # FAO 4.3.4
INITIALS, RATES = 38, 41
BAND = (0.05, 0.5, 0.95)
_FLOOR = 1e-9  # a share that no test can rule out


@dataclass(frozen=True, eq=False)
class Crossings:
    """The loss at which each cell of the grid passes a mark, in ascending order."""

    losses: Array
    order: Array


@dataclass(frozen=True, eq=False)
class Cells:
    """Every initial viability with every rate; flat arrays of one length."""

    initials: Array
    log_rates: Array
    rates: Array


@dataclass(frozen=True, eq=False)
class Grid(Cells):
    """The cells that all lots share, and what was reckoned of them beforehand."""

    falling: Crossings

    def passing(self, standard: float) -> Crossings:
        return _passing(standard)


@cache
def the_grid() -> Grid:
    import numpy as np
    from scipy.special import ndtr, ndtri

    cells = cells_of(np.linspace(-2.0, 3.9, INITIALS), np.linspace(-3.2, 3.2, RATES))
    act_below = ndtri(ACT_BELOW_SHARE_OF_INITIAL * ndtr(cells.initials))
    falling = _crossings(cells.initials, cells.rates, act_below)
    return Grid(cells.initials, cells.log_rates, cells.rates, falling)


def cells_of(initials: Array, log_rates: Array) -> Cells:
    """Every one of the initial viabilities with every one of the rates."""
    import numpy as np

    first, second = np.meshgrid(initials, log_rates, indexing="ij")
    return Cells(first.ravel(), second.ravel(), np.exp(second.ravel()))


@lru_cache(maxsize=64)
def _passing(standard: float) -> Crossings:
    grid = the_grid()
    return _crossings(grid.initials, grid.rates, probit(standard))


def _crossings(initials: Array, rates: Array, mark: Array | float) -> Crossings:
    import numpy as np

    losses = (initials - mark) / rates
    order = np.argsort(losses)
    return Crossings(losses[order], order)


def posterior_weights(
    *,
    losses: Array,
    germinated: Array,
    sown: Array,
    spread: Array,
    cells: Cells | None = None,
) -> Array:
    """The posterior weight of every cell, of the grid unless others are given; one row for
    each lot.
    """
    import numpy as np
    from scipy.special import ndtr

    grid = cells or the_grid()
    started = ((grid.initials - INITIAL_PROBIT) / INITIAL_SPREAD) ** 2
    log_weight = -0.5 * (started + (grid.log_rates / spread[:, None]) ** 2)
    for column in range(losses.shape[1]):
        tested = np.flatnonzero(sown[:, column])
        counts, seeds = germinated[tested, column, None], sown[tested, column, None]
        share = ndtr(grid.initials - grid.rates * losses[tested, column, None])
        np.clip(share, _FLOOR, 1 - _FLOOR, out=share)
        each = 1 / (1 + (seeds - 1) * BETWEEN_TESTS)
        log_weight[tested] += each * (
            counts * np.log(share) + (seeds - counts) * np.log(1 - share)
        )
    log_weight -= log_weight.max(axis=1, keepdims=True)
    weight: Array = np.exp(log_weight)
    return weight / weight.sum(axis=1, keepdims=True)


@dataclass(frozen=True, eq=False)
class Reading:
    """What posteriors say after a loss each: arrays of shares, one for each that was asked."""

    low: Array
    median: Array
    high: Array
    chance_above: Array
    below_share_of_initial: Array  # truth values


@dataclass(frozen=True, eq=False)
class Posterior:
    """The weight of every cell, a row for each lot, and the standard that all are held to."""

    weights: Array
    standard: float

    def at(self, loss: Array, rows: Array) -> Reading:
        """Read the 90 % band and the chance of the standard: each row after its own loss.

        A row may be asked more than once.
        """
        import numpy as np
        from scipy.special import ndtr

        grid, weights = the_grid(), self.weights[rows]
        alive = grid.initials - grid.rates * loss[:, None]
        order = np.argsort(alive, axis=1)
        band = quantiles(
            np.take_along_axis(alive, order, 1),
            half_below(np.take_along_axis(weights, order, 1)),
            BAND,
        )
        low, median, high = (ndtr(band[:, column]) for column in range(3))
        passed = cumulated_by(grid.passing(self.standard).losses, self._passing, loss, rows)
        chance = np.clip(1 - passed, 0, 1)
        fallen = loss > self.loss_to_share_of_initial[rows]
        return Reading(low, median, high, chance, fallen)

    @cached_property
    def initial(self) -> Array:
        """The median share alive at the beginning."""
        from scipy.special import ndtr

        by_initial = self.weights.reshape(-1, INITIALS, RATES).sum(axis=2)
        initials = the_grid().initials.reshape(INITIALS, RATES)[:, 0]
        median: Array = ndtr(quantiles(initials, half_below(by_initial), (0.5,))[:, 0])
        return median

    @cached_property
    def loss_to_share_of_initial(self) -> Array:
        """The loss by which, as likely as not, 85 % of what was alive at first still is."""
        falling = the_grid().falling
        return quantiles(falling.losses, self._cumulated(falling), (0.5,))[:, 0]

    def loss_to_level(self, level: float) -> Array:
        """The loss by which the chance of being above the standard has fallen to a level."""
        losses = the_grid().passing(self.standard).losses
        return quantiles(losses, self._passing, (1 - level,))[:, 0]

    @cached_property
    def _passing(self) -> Array:
        return self._cumulated(the_grid().passing(self.standard))

    def _cumulated(self, crossings: Crossings) -> Array:
        import numpy as np

        return half_below(np.take(self.weights, crossings.order, axis=1))


def half_below(weights: Array) -> Array:
    """The weight below each cell along the last axis, and half of its own."""
    import numpy as np

    below = np.cumsum(weights, axis=-1)
    below -= weights / 2
    return below


def quantiles(values: Array, below: Array, wanted: Sequence[float]) -> Array:
    """Quantiles of values that ascend along the last axis, by the weight below each."""
    import numpy as np

    values = np.broadcast_to(values, below.shape)
    found = []
    for share in wanted:
        right = np.clip((below < share).sum(axis=-1), 1, below.shape[-1] - 1)
        right = np.expand_dims(right, -1)
        x0, x1 = (np.take_along_axis(values, at, -1) for at in (right - 1, right))
        y0, y1 = (np.take_along_axis(below, at, -1) for at in (right - 1, right))
        part = np.clip((share - y0) / np.maximum(y1 - y0, 1e-300), 0, 1)
        found.append(x0 + part * (x1 - x0))
    return np.concatenate(found, axis=-1)


def cumulated_by(losses: Array, below: Array, loss: Array, rows: Array) -> Array:
    """The weight of the cells that pass their mark by a loss; one for each row asked for."""
    import numpy as np

    right = np.clip(np.searchsorted(losses, loss), 1, len(losses) - 1)
    x0, x1 = losses[right - 1], losses[right]
    y0, y1 = below[rows, right - 1], below[rows, right]
    part = np.clip((loss - x0) / np.maximum(x1 - x0, 1e-300), 0, 1)
    cumulated: Array = y0 + part * (y1 - y0)
    return cumulated
