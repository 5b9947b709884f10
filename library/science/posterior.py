"""What a lot's own tests say about its viability: a posterior over where it began and how fast
it dies.

The model: on a day by which the species is expected to have lost ``L`` probits, the share alive
is Phi(Ki - r L). The prior of the initial viability Ki is normal, that of log r is normal
around 0 with the spread of the species' longevity; the published optimism of the equation is
already in L. A test of n seeds counts as n / (1 + (n - 1) rho) binomial seeds, because tests
of one lot differ by more than chance alone (samples, substrates, people), so that a hundred
seeds sown at once say less than two fifties sown apart. Stopping a test early, as a sequential
test does, does not change what its counts say (the likelihood principle).

The posterior is computed on one fixed grid, so that 100 000 lots need no loop over days: the
loss at which each grid cell passes the standard is known beforehand, and the day on which the
chance falls to a level is a weighted quantile of those losses.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from library.science.longevity import Longevity
from library.science.posterior_grid import (
    cumulated_by,
    posterior_weights,
    quantiles,
    the_grid,
)
from library.science.viability import LossCurve, Stretch

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]

_CHUNK = 256  # lots at a time: about 20 MB, whatever the number of lots
_BAND = (0.05, 0.5, 0.95)


@dataclass(frozen=True, kw_only=True)
class LotTest:
    """One finished germination test: the day since storage began, and the counts.

    Ranges: day 0 or more; sown at least 1; germinated 0 to sown. Raises ValueError otherwise.
    """

    day: float
    germinated: int
    sown: int

    def __post_init__(self) -> None:
        if not 0 <= self.day < math.inf:
            raise ValueError(f"A test is on day 0 of storage or later, not {self.day:g}.")
        if self.sown < 1:
            raise ValueError(f"A test needs at least 1 seed sown, not {self.sown}.")
        if not 0 <= self.germinated <= self.sown:
            raise ValueError(
                f"Of {self.sown} seeds sown, 0 to {self.sown} can germinate, "
                f"not {self.germinated}."
            )


@dataclass(frozen=True, kw_only=True)
class ViabilityOn:
    """The estimate for one day: median, 90 % band and chance of the standard, as fractions."""

    day: float
    low: float
    median: float
    high: float
    chance_above: float


@dataclass(frozen=True, eq=False)
class Estimate:
    """All that is known of one lot's viability, on any day of its storage.

    Days count from the start of storage and lie at 0 or later; a day after the last stretch of
    the history assumes that the lot stays where it is.
    """

    longevity: Longevity
    curve: LossCurve
    standard: float
    weights: Array

    def on(self, day: float) -> ViabilityOn:
        """Return the median, the 90 % band and the chance of being above the standard."""
        import numpy as np

        loss = self.curve.at(day)
        grid = the_grid()
        alive = grid.initials - grid.rates * loss
        order = np.argsort(alive)
        low, median, high = (
            float(value) for value in quantiles(alive[order], self.weights[order], _BAND)
        )
        from scipy.special import ndtr

        return ViabilityOn(
            day=day,
            low=float(ndtr(low)),
            median=float(ndtr(median)),
            high=float(ndtr(high)),
            chance_above=self.chance_above(day),
        )

    def over(self, days: Sequence[float]) -> list[ViabilityOn]:
        """Return the estimate for each of several days, for a picture or a table."""
        return [self.on(day) for day in days]

    def chance_above(self, day: float) -> float:
        """Return the chance, 0 to 1, that the share alive on a day is the standard or more."""
        passing = the_grid().passing(self.standard)
        return 1 - float(cumulated_by(passing, self.weights, self.curve.at(day)))

    def day_chance_falls_to(self, level: float) -> float:
        """Return the day on which the chance of being above the standard falls to a level.

        Range: level strictly between 0 and 1. Raises ValueError outside it. 0 when the chance
        is below the level from the start.
        """
        check_level(level)
        passing = the_grid().passing(self.standard)
        losses = quantiles(passing.losses, self.weights[passing.order], (1 - level,))
        return self.curve.day_of(float(losses[0]))

    def days_to_share_of_initial(self) -> float:
        """Return how many days of storage as it is now take viability from its beginning to
        85 % of that: the predicted time that FAO's rule of a third is about.
        """
        return self._loss_to_share_of_initial() / self.curve.per_day

    def below_share_of_initial(self, day: float) -> bool:
        """Return whether viability has, more likely than not, fallen under 85 % of initial."""
        return self.curve.at(day) > self._loss_to_share_of_initial()

    def _loss_to_share_of_initial(self) -> float:
        gaps = the_grid().falling
        return float(quantiles(gaps.losses, self.weights[gaps.order], (0.5,))[0])


@dataclass(frozen=True, eq=False, kw_only=True)
class Estimates:
    """The estimates for many lots, one row each: arrays of fractions, and of days from now."""

    chance_above: Array
    low: Array
    median: Array
    high: Array
    days_to_level: Array  # negative when the chance fell to the level some days ago
    days_to_share_of_initial: Array  # from the beginning, as stored now
    below_share_of_initial: Array  # truth values


def estimate(
    *,
    tests: Sequence[LotTest],
    history: Sequence[Stretch],
    longevity: Longevity,
    standard: float,
) -> Estimate:
    """Return what is known of a lot's viability from its storage and its tests.

    The history begins on day 0 and ends now; the standard is the share that should be alive,
    strictly between 0 and 1. Without a test the estimate is the prior. Raises ValueError for an
    empty history, or a standard out of range.
    """
    import numpy as np

    check_standard(standard)
    curve = longevity.expected_loss(tuple(history))
    weights = posterior_weights(
        losses=np.array([[curve.at(test.day) for test in tests]], dtype=float),
        germinated=np.array([[test.germinated for test in tests]], dtype=float),
        sown=np.array([[test.sown for test in tests]], dtype=float),
        spread=np.array([longevity.spread]),
    )
    return Estimate(longevity, curve, standard, weights[0])


def estimate_many(
    *,
    losses: Array,
    germinated: Array,
    sown: Array,
    loss_now: Array,
    loss_per_day: Array,
    spread: Array,
    standard: Array,
    level: float,
) -> Iterator[tuple[slice, Estimates]]:
    """Yield the estimates of many lots, a few hundred rows at a time, in flat memory.

    One row for each lot, one column for each test: ``losses`` the probits it was expected to
    have lost on the day of the test (`Longevity.expected_loss`), ``germinated`` and ``sown``
    its counts, with 0 sown where a lot has fewer tests. ``loss_now`` and ``loss_per_day`` are
    the expected loss by today and on each day from now (above 0), ``spread`` that of the
    longevity, ``standard`` the share that should be alive, ``level`` the chance wanted. Each
    yield names its rows, so that progress can be shown and the work stopped between them.
    Raises ValueError for counts or shares out of range, before the first yield.
    """
    check_level(level)
    _check_rows(losses, germinated, sown, loss_now, loss_per_day, spread, standard)
    return _in_chunks(losses, germinated, sown, loss_now, loss_per_day, spread, standard, level)


def _in_chunks(
    losses: Array,
    germinated: Array,
    sown: Array,
    loss_now: Array,
    loss_per_day: Array,
    spread: Array,
    standard: Array,
    level: float,
) -> Iterator[tuple[slice, Estimates]]:
    for start in range(0, len(loss_now), _CHUNK):
        rows = slice(start, min(start + _CHUNK, len(loss_now)))
        weights = posterior_weights(
            losses=losses[rows],
            germinated=germinated[rows],
            sown=sown[rows],
            spread=spread[rows],
        )
        yield rows, _read(weights, loss_now[rows], loss_per_day[rows], standard[rows], level)


def _read(
    weights: Array, loss_now: Array, loss_per_day: Array, standard: Array, level: float
) -> Estimates:
    """Read off what the page shows, for each row of weights."""
    import numpy as np
    from scipy.special import ndtr

    grid = the_grid()
    alive = grid.initials - grid.rates * loss_now[:, None]
    order = np.argsort(alive, axis=1)
    band = quantiles(
        np.take_along_axis(alive, order, 1), np.take_along_axis(weights, order, 1), _BAND
    )
    low, median, high = (ndtr(band[:, column]) for column in range(3))
    falling = grid.falling
    share_loss = quantiles(falling.losses, weights[:, falling.order], (0.5,))[:, 0]
    chance, level_loss = np.empty(len(weights)), np.empty(len(weights))
    for wanted in np.unique(standard):
        rows = standard == wanted
        passing = grid.passing(float(wanted))
        chance[rows] = 1 - cumulated_by(passing, weights[rows], loss_now[rows])
        level_loss[rows] = quantiles(
            passing.losses, weights[rows][:, passing.order], (1 - level,)
        )[:, 0]
    return Estimates(
        chance_above=chance,
        low=low,
        median=median,
        high=high,
        days_to_level=(level_loss - loss_now) / loss_per_day,
        days_to_share_of_initial=share_loss / loss_per_day,
        below_share_of_initial=loss_now > share_loss,
    )


def check_standard(standard: float) -> None:
    """Raise ValueError unless the standard lies between 0 and 1."""
    if not 0 < standard < 1:
        raise ValueError(f"A standard lies between 0 and 1, such as 0.75, not {standard:g}.")


def check_level(level: float) -> None:
    """Raise ValueError unless the level lies between 0 and 1."""
    if not 0 < level < 1:
        raise ValueError(f"A level of chance lies between 0 and 1, such as 0.8, not {level:g}.")


def _check_rows(
    losses: Array,
    germinated: Array,
    sown: Array,
    loss_now: Array,
    loss_per_day: Array,
    spread: Array,
    standard: Array,
) -> None:
    lots = len(loss_now)
    if not losses.shape == germinated.shape == sown.shape or losses.ndim != 2:
        raise ValueError("Losses, germinated and sown have a row for each lot, of one shape.")
    if not lots == len(losses) == len(loss_per_day) == len(spread) == len(standard):
        raise ValueError("Every column of figures needs one row for each lot.")
    if ((germinated < 0) | (germinated > sown)).any():
        raise ValueError("No more seeds germinate than were sown, and no fewer than none.")
    if not ((loss_now >= 0).all() and (losses >= 0).all()):
        raise ValueError("A loss is 0 probits or more.")
    if not ((loss_per_day > 0).all() and (spread > 0).all()):
        raise ValueError("The loss on each day and the spread are above 0.")
    if not ((standard > 0) & (standard < 1)).all():
        raise ValueError("A standard lies between 0 and 1, such as 0.75.")
