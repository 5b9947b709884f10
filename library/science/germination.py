"""Germination tests: percentages, exact intervals, whether replicates agree, and when the first
one is due.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import SupportsFloat

from library.science.dates import checked_day
from library.science.numbers import number, whole_number
from library.science.reasons import Reason, Scalar, because

FAO = "FAO Genebank Standards 2014"
TOLERANCE_SOURCE = (
    "7 CFR 201.55 and Miles 1963: 97.5 % studentized range of binomial samples of one mean"
)

# The 97.5 % points of the studentized range with infinitely many degrees of freedom, by number
# of replicates, to two decimals as the printed tables of 1963 gave them: with more decimals the
# published tolerances do not come out. The tests compare them with scipy's.
_STUDENTIZED_975 = {
    2: 3.17,
    3: 3.68,
    4: 3.98,
    5: 4.20,
    6: 4.36,
    7: 4.49,
    8: 4.60,
    9: 4.70,
    10: 4.78,
    11: 4.86,
    12: 4.92,
    13: 4.99,
    14: 5.04,
    15: 5.09,
    16: 5.14,
}
_ROUNDS_UP_FROM = 0.79  # reproduces every row of the published table; an ordinary half does not

_LABEL_TOLERANCES = ((96, 5), (90, 6), (80, 7), (70, 8), (60, 9), (0, 10))  # 7 CFR 201.63

LONGEST_YEARS = 40.0  # FAO 4.3.3
FROZEN_LONG_LIVED_YEARS = 10.0  # FAO 4.3.3
FROZEN_YEARS = 5.0  # FAO 4.3.3
UNKNOWN_YEARS = 1.0  # common practice for seed that is out of use and kept all the same
LATEST_FIRST_TEST_DAYS = 365  # FAO 4.3.1: within 12 months


@dataclass(frozen=True)
class ReplicateCheck:
    """Whether the replicates of one test agree; true in a condition when they do."""

    agree: bool
    mean_percent: float
    range_percent: float
    tolerated_percent: float
    source: str = TOLERANCE_SOURCE

    def __bool__(self) -> bool:
        return self.agree

    @property
    def sentence(self) -> str:
        """The result in English."""
        verdict = "agree" if self.agree else "differ too much: the test should be done again"
        return (
            f"The replicates {verdict}: they lie {self.range_percent:g} points apart, "
            f"and {self.tolerated_percent:g} are tolerated at a mean of {self.mean_percent:g} "
            f"%."
        )


@dataclass(frozen=True)
class RetestAdvice:
    """The day by which a lot must be tested again, and why that day."""

    due_on: date
    why: Reason
    regenerate: bool = False

    @property
    def rule(self) -> str:
        """The machine key of the rule that set the day."""
        return self.why.key

    @property
    def source(self) -> str:
        """Who published the rule."""
        return self.why.source

    @property
    def inputs(self) -> Mapping[str, Scalar]:
        """The numbers that went into the rule."""
        return self.why.inputs

    @property
    def sentence(self) -> str:
        """The rule in English, with its numbers."""
        return self.why.sentence


def exact_interval(
    germinated: int, sown: int, confidence: SupportsFloat = 0.95
) -> tuple[float, float]:
    """Return the exact (Clopper-Pearson) interval for the share of seed that germinates.

    Units: seeds in, fractions from 0 to 1 out. Ranges: sown at least 1, germinated from 0 to
    sown, confidence strictly between 0 and 1. Raises ValueError outside them. Source: Clopper &
    Pearson 1934, Biometrika 26:404-413.
    """
    germinated = whole_number(germinated, "The number of seeds that germinated")
    sown = whole_number(sown, "The number of seeds sown")
    confidence = number(confidence, "The confidence")
    _check_counts(germinated, sown)
    _check_open_share(confidence, "The confidence")
    from scipy.special import betaincinv

    tail = (1 - confidence) / 2
    low = 0.0 if germinated == 0 else float(betaincinv(germinated, sown - germinated + 1, tail))
    high = (
        1.0
        if germinated == sown
        else float(betaincinv(germinated + 1, sown - germinated, 1 - tail))
    )
    return low, high


def percent(normal: int, sown: int) -> int:
    """Return normal seedlings as a whole percentage of the seeds sown; an exact half goes up.

    Ranges: sown at least 1, normal from 0 to sown. Raises ValueError outside them. Source:
    whole percent as in 7 CFR part 201; the half going up is the usual laboratory rule (from
    memory).
    """
    _check_counts(normal, sown)
    return (200 * normal + sown) // (2 * sown)


def tolerated_range(mean_percent: SupportsFloat, replicates: int, seeds_each: int) -> float:
    """Return the most that replicates of one test may lie apart, in percentage points.

    Ranges: mean 0 to 100 percent (rounded to whole percent first, as the table is), replicates
    2 to 16, seeds_each at least 1. Raises ValueError outside them. Source: 7 CFR 201.55, after
    Miles 1963, for 4 x 100 and 2 x 100 seeds, and ISTA table 5C (from memory) for two tests of
    400, whose rows this reproduces; every other size is computed by the same rule, the 97.5 %
    studentized range of binomial samples, at half a percent under the mean, rounded up from
    0.79: to whole seeds up to 100 of them, to whole percent above. Small tests can only show
    large differences.
    """
    mean = number(mean_percent, "A mean germination")
    replicates = whole_number(replicates, "The number of replicates")
    seeds_each = whole_number(seeds_each, "The number of seeds in a replicate")
    if not 0 <= mean <= 100:
        raise ValueError(f"A mean germination lies from 0 to 100 percent, not {mean:g}.")
    _check_layout(replicates, seeds_each)
    return _tolerated(math.floor(mean + 0.5), replicates, seeds_each)


@lru_cache(maxsize=4096)
def _tolerated(whole_percent: int, replicates: int, seeds_each: int) -> float:
    share = max(whole_percent - 0.5, 0.5) / 100
    steps = min(seeds_each, 100)  # in which a result is written: seeds, or whole percent
    widest = _STUDENTIZED_975[replicates] * math.sqrt(share * (1 - share) / seeds_each) * steps
    return min(100.0, math.floor(widest + 1 - _ROUNDS_UP_FROM) * 100 / steps)


def label_tolerance(mean_percent: SupportsFloat) -> int:
    """Return how many percentage points a test of 400 seeds or more may fall short of what a
    label says.

    Units: the mean of the label and the test, 0 to 100 percent. Raises ValueError outside it.
    Source: 7 CFR 201.63.
    """
    mean = number(mean_percent, "The mean of label and test")
    if not 0 <= mean <= 100:
        raise ValueError(f"The mean of label and test is 0 to 100 percent, not {mean:g}.")
    return next(points for least, points in _LABEL_TOLERANCES if mean >= least)


def replicates_agree(counts: Sequence[int], seeds_each: int | Sequence[int]) -> ReplicateCheck:
    """Say whether the replicates of one test lie no farther apart than chance allows.

    Units: normal seedlings counted in each replicate; seeds sown in each, one number or one for
    each replicate. Replicates of different size are compared by their percentages, with the
    tolerance of the smallest. Ranges: 2 to 16 replicates, each count from 0 to the seeds sown.
    Raises ValueError outside them. Source: as tolerated_range.
    """
    sown = [seeds_each] * len(counts) if isinstance(seeds_each, int) else list(seeds_each)
    if len(sown) != len(counts):
        raise ValueError(
            f"There are {len(counts)} counts but {len(sown)} numbers of seeds sown."
        )
    for count, seeds in zip(counts, sown, strict=True):
        _check_counts(count, seeds)
    tolerated = tolerated_range(
        mean_percent=sum(counts) * 100 / max(1, sum(sown)),
        replicates=len(counts),
        seeds_each=min(sown, default=0),
    )
    shares = [count * 100 / seeds for count, seeds in zip(counts, sown, strict=True)]
    apart = max(shares) - min(shares)
    return ReplicateCheck(
        agree=apart <= tolerated + 1e-9,
        mean_percent=sum(counts) * 100 / sum(sown),
        range_percent=apart,
        tolerated_percent=tolerated,
    )


def first_test_due(*, received_on: date, within_days: int = 90) -> RetestAdvice:
    """Return the day by which a lot that was never tested must have its first test.

    Units: days. Range: within_days 1 to 365. Raises ValueError outside it. Source: FAO Genebank
    Standards 2014, 4.3.1 (within 12 months of receipt); the shorter default is ours.
    """
    checked_day(received_on)
    if not 1 <= within_days <= LATEST_FIRST_TEST_DAYS:
        raise ValueError(
            f"The first test is due within 1 to {LATEST_FIRST_TEST_DAYS} days of receipt, "
            f"not {within_days}."
        )
    why = because(
        "first_test", f"{FAO}, 4.3.1", received_on=received_on, within_days=within_days
    )
    return RetestAdvice(received_on + timedelta(days=within_days), why)


def _check_counts(counted: int, sown: int) -> None:
    if sown < 1:
        raise ValueError(f"A test needs at least 1 seed sown, not {sown}.")
    if not 0 <= counted <= sown:
        raise ValueError(f"Of {sown} seeds sown, 0 to {sown} can germinate, not {counted}.")


def _check_open_share(value: float, what: str) -> None:
    if not 0 < value < 1:
        raise ValueError(f"{what} lies between 0 and 1, such as 0.95, not {value:g}.")


def _check_layout(replicates: int, seeds_each: int) -> None:
    if replicates not in _STUDENTIZED_975:
        raise ValueError(f"Comparing replicates needs 2 to 16 of them, not {replicates}.")
    if seeds_each < 1:
        raise ValueError(f"Each replicate needs at least 1 seed, not {seeds_each}.")
