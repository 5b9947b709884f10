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
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from library.science.longevity import Longevity
from library.science.posterior_grid import Cells, Posterior, posterior_weights
from library.science.viability import LossCurve, Stretch

if TYPE_CHECKING:
    import numpy as np

    Array = np.ndarray[Any, np.dtype[Any]]


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
class LotRecord:
    """What an estimate is made of: how fast the species dies, what the lot's storage was
    expected to cost it, and its tests.
    """

    longevity: Longevity
    curve: LossCurve
    tests: Sequence[LotTest] = ()


@dataclass(frozen=True, kw_only=True)
class ViabilityOn:
    """The estimate for one day: median, 90 % band and chance of the standard, as fractions;
    and whether it has, more likely than not, fallen under 85 % of its initial viability.
    """

    day: float
    low: float
    median: float
    high: float
    chance_above: float
    below_share_of_initial: bool = False


@dataclass(frozen=True, eq=False)
class Estimate:
    """All that is known of one lot's viability, on any day of its storage.

    Days count from the start of storage and lie at 0 or later; a day after the last stretch of
    the history assumes that the lot stays where it is.
    """

    record: LotRecord
    posterior: Posterior  # of one row

    @property
    def longevity(self) -> Longevity:
        return self.record.longevity

    @property
    def curve(self) -> LossCurve:
        return self.record.curve

    @property
    def standard(self) -> float:
        return self.posterior.standard

    @property
    def initial(self) -> float:
        """The median share alive when storage began."""
        return float(self.posterior.initial[0])

    def on(self, day: float) -> ViabilityOn:
        """Return the median, the 90 % band and the chance of being above the standard."""
        return self.over([day])[0]

    def over(self, days: Sequence[float]) -> list[ViabilityOn]:
        """Return the estimate for each of several days, for a picture or a table."""
        return viabilities(self.posterior, [self.curve], [(0, day) for day in days])

    def chance_above(self, day: float) -> float:
        """Return the chance, 0 to 1, that the share alive on a day is the standard or more."""
        return self.on(day).chance_above

    def below_share_of_initial(self, day: float) -> bool:
        """Return whether viability has, more likely than not, fallen under 85 % of initial."""
        return self.on(day).below_share_of_initial

    def day_chance_falls_to(self, level: float) -> float:
        """Return the day on which the chance of being above the standard falls to a level.

        Range: level strictly between 0 and 1. Raises ValueError outside it. 0 when the chance
        is below the level from the start.
        """
        check_level(level)
        return self.curve.day_of(float(self.posterior.loss_to_level(level)[0]))

    def days_to_share_of_initial(self) -> float:
        """Return how many days of storage as it is now take viability from its beginning to
        85 % of that: the predicted time that FAO's rule of a third is about.
        """
        return float(self.posterior.loss_to_share_of_initial[0]) / self.curve.per_day


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
    curve = longevity.expected_loss(tuple(history))
    record = LotRecord(longevity=longevity, curve=curve, tests=tests)
    return estimate_from(record, standard=standard)


def estimate_from(record: LotRecord, *, standard: float) -> Estimate:
    """Return the same from a record. Raises ValueError for a standard out of range."""
    return Estimate(record, posterior_of([record], standard=standard))


def posterior_of(records: Sequence[LotRecord], *, standard: float) -> Posterior:
    """Return the posteriors of several lots, a row each: 13 kB for a lot.

    Raises ValueError unless the standard lies between 0 and 1.
    """
    check_standard(standard)
    return Posterior(weights_of(records), standard)


def weights_of(records: Sequence[LotRecord], cells: Cells | None = None) -> Array:
    """Return the weight of every cell, of the grid unless others are given; a row each."""
    import numpy as np

    most = max((len(record.tests) for record in records), default=0)
    losses, germinated, sown = np.zeros((3, len(records), most))  # 0 sown: no such test
    for row, record in enumerate(records):
        for column, test in enumerate(record.tests):
            losses[row, column] = record.curve.at(test.day)
            germinated[row, column], sown[row, column] = test.germinated, test.sown
    spread = np.array([record.longevity.spread for record in records])
    return posterior_weights(
        losses=losses, germinated=germinated, sown=sown, spread=spread, cells=cells
    )


def viabilities(
    posterior: Posterior, curves: Sequence[LossCurve], asked: Sequence[tuple[int, float]]
) -> list[ViabilityOn]:
    """Return the estimate for each lot (its row) and day that is asked for, in that order."""
    import numpy as np

    rows = np.array([row for row, _ in asked], dtype=int)
    losses = np.array([curves[row].at(day) for row, day in asked], dtype=float)
    read = posterior.at(losses, rows)
    columns = (read.low, read.median, read.high, read.chance_above, read.below_share_of_initial)
    return [
        ViabilityOn(
            day=day,
            low=low,
            median=median,
            high=high,
            chance_above=chance,
            below_share_of_initial=fallen,
        )
        for (_, day), low, median, high, chance, fallen in zip(
            asked, *(column.tolist() for column in columns), strict=True
        )
    ]


def check_standard(standard: float) -> None:
    """Raise ValueError unless the standard lies between 0 and 1."""
    if not 0 < standard < 1:
        raise ValueError(f"A standard lies between 0 and 1, such as 0.75, not {standard:g}.")


def check_level(level: float) -> None:
    """Raise ValueError unless the level lies between 0 and 1."""
    if not 0 < level < 1:
        raise ValueError(f"A level of chance lies between 0 and 1, such as 0.8, not {level:g}.")
