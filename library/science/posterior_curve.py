"""One lot's posterior read without steps, for a picture and its table.

The grid that all lots share is as coarse as a hundred thousand of them need it. Where many
tests agree, few of its cells carry the weight, and what is read off them jumps by up to a point
from one day to the next. For one lot there is time to lay a fine grid over just those cells.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from library.science.posterior import Estimate, ViabilityOn, weights_of
from library.science.posterior_grid import BAND, INITIALS, RATES, cells_of, the_grid
from library.science.viability import LossCurve, probit

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

FINE = 120  # cells on each side
_CARRIES = 1e-7  # weight below which a row or column of the coarse grid is left out
_PROBITS = (-6.0, 6.0, 49)  # outside them a share is 0 or 1 to nine figures
_BETWEEN = 9  # of two of these, where a quantile lies


@dataclass(frozen=True, eq=False, kw_only=True)
class FineEstimate:
    """What is known of one lot's viability on any day, as `Estimate`, but without steps.

    For each rate, ``below`` holds the weight of the initial viabilities under each edge
    between cells; edges begin at ``first`` and lie ``apart`` probits from each other.
    """

    curve: LossCurve
    standard: float
    rates: Array
    below: Array
    first: float
    apart: float

    def on(self, day: float) -> ViabilityOn:
        """Return the median, the 90 % band and the chance of being above the standard.

        Units: days from the start of storage, 0 or later; fractions. Raises ValueError for a
        day out of range.
        """
        import numpy as np
        from scipy.special import ndtr

        loss = self.curve.at(day)
        low, median, high = ndtr(self._band(loss))
        passed = self._below(np.array([probit(self.standard)]), loss)[0]
        return ViabilityOn(
            day=day,
            low=float(low),
            median=float(median),
            high=float(high),
            chance_above=float(np.clip(1 - passed, 0, 1)),
        )

    def _band(self, loss: float) -> list[float]:
        """The quantiles of the band, in probits: roughly at first, then between two marks."""
        import numpy as np

        marks = np.linspace(*_PROBITS)
        right = np.clip(np.searchsorted(self._below(marks, loss), BAND), 1, len(marks) - 1)
        close = np.linspace(marks[right - 1], marks[right], _BETWEEN, axis=1)
        below = self._below(close.ravel(), loss).reshape(close.shape)
        return [float(np.interp(*each)) for each in zip(BAND, below, close, strict=True)]

    def _below(self, probits: Array, loss: float) -> Array:
        """The chance that no more than each share, in probits, is alive after a loss.

        At a rate r that is the weight of the initial viabilities up to share + r loss; within
        a cell it grows evenly.
        """
        import numpy as np

        cells = self.below.shape[1] - 1
        at = (probits[:, None] + self.rates * loss - self.first) / self.apart
        at = np.clip(at, 0, cells)
        left = np.minimum(at.astype(int), cells - 1)
        column = np.arange(len(self.rates))
        low, high = self.below[column, left], self.below[column, left + 1]
        total: Array = (low + (at - left) * (high - low)).sum(axis=1)
        return total


def fine_estimate(estimate: Estimate) -> FineEstimate:
    """Return an estimate on a fine grid, laid over the part of the coarse one that counts."""
    import numpy as np

    coarse = the_grid()
    weights = estimate.posterior.weights[0].reshape(INITIALS, RATES)
    initials = _carrying(coarse.initials.reshape(INITIALS, RATES)[:, 0], weights.sum(axis=1))
    log_rates = _carrying(coarse.log_rates.reshape(INITIALS, RATES)[0], weights.sum(axis=0))
    fine = weights_of([estimate.record], cells_of(initials, log_rates))[0]
    by_rate = fine.reshape(FINE, FINE).T
    apart = float(initials[1] - initials[0])
    return FineEstimate(
        curve=estimate.curve,
        standard=estimate.standard,
        rates=np.exp(log_rates),
        below=np.hstack([np.zeros((FINE, 1)), np.cumsum(by_rate, axis=1)]),
        first=float(initials[0]) - apart / 2,
        apart=apart,
    )


def _carrying(axis: Array, weights: Array) -> Array:
    """The part of an axis that carries weight, and a cell more at each end, finely divided."""
    import numpy as np

    carrying = np.flatnonzero(weights > _CARRIES)
    first, last = max(carrying[0] - 1, 0), min(carrying[-1] + 1, len(axis) - 1)
    divided: Array = np.linspace(axis[first], axis[last], FINE)
    return divided
