"""Testing with few seeds: after each group, above the standard, below it, or sow another group.

Wald's sequential probability ratio test, cut off at a stated number of seeds, with its exact
risks and its exact cost.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum

WALD = "Wald 1945, Annals of Mathematical Statistics 16:117-186"
MOST_SEEDS = 2000
_LARGEST_FIXED = 20_000


class Outcome(StrEnum):
    """What the counts so far say."""

    ABOVE = "above"
    BELOW = "below"
    SOW_MORE = "sow_more"


@dataclass(frozen=True, kw_only=True)
class SequentialPlan:
    """A standard, the risks taken with it, and how many seeds may be spent on it.

    ``good`` is a germination that should be called above the standard, with a risk of at most
    about ``alpha`` of being called below; ``poor`` one that should be called below, with a risk
    of about ``beta`` of being called above. Seeds are sown in groups of ``group``, never more
    than ``most``.

    Ranges: 0 < poor < good < 1; alpha and beta above 0 and under 0.5; group 1 to most; most up
    to 2000. Raises ValueError outside them. Source: Wald 1945.
    """

    good: float
    poor: float
    alpha: float = 0.1
    beta: float = 0.1
    group: int = 10
    most: int = 100

    def __post_init__(self) -> None:
        if not 0 < self.poor < self.good < 1:
            raise ValueError(
                "A plan needs a poor germination below a good one, both between 0 and 1, such "
                f"as 0.6 and 0.8; not {self.poor:g} and {self.good:g}."
            )
        for risk in (self.alpha, self.beta):
            if not 0 < risk < 0.5:
                raise ValueError(f"A risk is above 0 and under 0.5, such as 0.1, not {risk:g}.")
        if not 1 <= self.group <= self.most <= MOST_SEEDS:
            raise ValueError(
                f"Groups hold at least 1 seed and no more than the {self.most} seeds that may "
                f"be spent, and those are at most {MOST_SEEDS}; not groups of {self.group}."
            )

    @property
    def slope(self) -> float:
        """The germination between good and poor at which the evidence stays where it is."""
        return self._died / (self._grew + self._died)

    @property
    def above_by(self) -> float:
        """Seedlings more than slope times seeds at which the lot is called above."""
        return math.log((1 - self.alpha) / self.beta) / (self._grew + self._died)

    @property
    def below_by(self) -> float:
        """Seedlings fewer than slope times seeds at which the lot is called below."""
        return math.log((1 - self.beta) / self.alpha) / (self._grew + self._died)

    @property
    def _grew(self) -> float:
        return math.log(self.good / self.poor)

    @property
    def _died(self) -> float:
        return math.log((1 - self.poor) / (1 - self.good))


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What the counts say, how many seeds to sow next, and whether the seeds ran out first."""

    outcome: Outcome
    sow_next: int = 0
    cut_off: bool = False
    source: str = WALD


@dataclass(frozen=True, kw_only=True)
class OperatingPoint:
    """For a true germination: the chance of being called above, and the seeds expected."""

    germination: float
    chance_above: float
    expected_seeds: float


@dataclass(frozen=True, kw_only=True)
class FixedTest:
    """A test of one size: above the standard when at least so many of the seeds germinate."""

    seeds: int
    at_least: int


def plan_for(
    *,
    standard: float,
    width: float = 0.15,
    alpha: float = 0.1,
    beta: float = 0.1,
    group: int = 10,
    available: int,
    share: float = 0.1,
) -> SequentialPlan | None:
    """Return a plan around a standard that spends no more than a share of a lot's seeds.

    Good is the standard and half the width, poor the standard less half of it (held within 0.02
    and 0.98). Units: fractions; available the lot's seeds, 0 or more. None when the share is
    less than one group. Ranges: standard, width and share above 0 and under 1. Raises
    ValueError outside them. Source: Wald 1945; the widths are common practice, no source.
    """
    for value, what in ((standard, "A standard"), (width, "A width"), (share, "A share")):
        if not 0 < value < 1:
            raise ValueError(f"{what} lies between 0 and 1, not {value:g}.")
    if available < 0:
        raise ValueError(f"A lot has 0 seeds or more, not {available}.")
    most = min(MOST_SEEDS, int(available * share + 1e-9))
    if most < group:
        return None
    return SequentialPlan(
        good=min(standard + width / 2, 0.98),
        poor=max(standard - width / 2, 0.02),
        alpha=alpha,
        beta=beta,
        group=group,
        most=most,
    )


def decide(plan: SequentialPlan, *, germinated: int, sown: int) -> Verdict:
    """Return what the counts so far say: above, below, or sow another group.

    Units: seeds, all groups together. When the seeds that may be spent are used up without a
    decision, the lot is called by the side of the slope on which it stands (below when just on
    it), and ``cut_off`` says that the risks are larger. Ranges: sown 0 or more, germinated 0 to
    sown. Raises ValueError outside them. Source: Wald 1945.
    """
    if sown < 0 or not 0 <= germinated <= sown:
        raise ValueError(f"Of {max(sown, 0)} seeds sown, {germinated} cannot have germinated.")
    excess = germinated - plan.slope * sown
    if excess >= plan.above_by:
        return Verdict(outcome=Outcome.ABOVE)
    if excess <= -plan.below_by:
        return Verdict(outcome=Outcome.BELOW)
    if sown < plan.most:
        return Verdict(outcome=Outcome.SOW_MORE, sow_next=min(plan.group, plan.most - sown))
    return Verdict(outcome=Outcome.ABOVE if excess > 0 else Outcome.BELOW, cut_off=True)


def operating_point(plan: SequentialPlan, *, germination: float) -> OperatingPoint:
    """Return a plan's exact chance of saying "above", and its exact mean cost in seeds.

    Range: germination 0 to 1. Raises ValueError outside it. Every path of the test is counted,
    group by group, the cut-off included; no approximation of Wald's is used.
    """
    _check_germination(germination)
    import numpy as np
    from scipy.stats import binom

    share = min(max(germination, 1e-12), 1 - 1e-12)  # scipy overflows next to 0
    at = np.array([1.0])  # the chance of each count among tests that go on
    sown, above, expected = 0, 0.0, 0.0
    while at.any():
        step = min(plan.group, plan.most - sown)
        expected += step * float(at.sum())
        at = np.convolve(at, binom.pmf(np.arange(step + 1), step, share))
        sown += step
        excess = np.arange(len(at)) - plan.slope * sown
        passed, failed = excess >= plan.above_by, excess <= -plan.below_by
        if sown == plan.most:
            passed, failed = passed | (excess > 0), np.ones_like(failed)
        above += float(at[passed].sum())
        at[passed | failed] = 0
    return OperatingPoint(
        germination=germination, chance_above=min(above, 1.0), expected_seeds=expected
    )


def fixed_test(*, good: float, poor: float, alpha: float, beta: float) -> FixedTest:
    """Return the smallest test of one size that keeps both risks: for comparison.

    Ranges as `SequentialPlan`. Raises ValueError outside them, or when more than 20 000 seeds
    would be needed. Source: the exact binomial distribution.
    """
    SequentialPlan(good=good, poor=poor, alpha=alpha, beta=beta)
    import numpy as np
    from scipy.stats import binom

    for start in range(1, _LARGEST_FIXED, 500):
        seeds = np.arange(start, start + 500)
        at_least = binom.ppf(alpha, seeds, good)  # at most alpha of good lots fall below it
        at_least = np.where(
            binom.cdf(at_least - 1, seeds, good) <= alpha, at_least, at_least - 1
        )
        suits = binom.sf(at_least - 1, seeds, poor) <= beta
        if suits.any():
            first = int(np.argmax(suits))
            return FixedTest(seeds=int(seeds[first]), at_least=int(at_least[first]))
    raise ValueError(
        f"No test of up to {_LARGEST_FIXED} seeds tells {poor:g} from {good:g} at these risks; "
        "take them farther apart."
    )


def _check_germination(germination: float) -> None:
    if not 0 <= germination <= 1:
        raise ValueError(f"Germination is a fraction from 0 to 1, not {germination:g}.")
