"""What the next test of a lot would cost it, in seeds."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from library.germination.few_seeds import likely_germination, plan_for_lot
from library.germination.method import cost_of, suggested_size
from library.germination.models import BenchRules
from library.science.sequential import SequentialPlan, operating_point
from library.stock.models import Lot


@dataclass(frozen=True)
class FewSeedsCost:
    """A test with few seeds: sown in groups, never more than ``most_seeds``, and as many as are
    expected of a lot like this.
    """

    group_seeds: int
    most_seeds: int
    expected_seeds: float


@dataclass(frozen=True)
class TestCost:
    """The usual test of one size, the share of the lot that it takes, and the test with few
    seeds beside it; None where one group is more than a test may cost.
    """

    __test__ = False  # not a test class, whatever its name says to pytest

    seeds_left: int
    seeds: int
    share: float
    few_seeds: FewSeedsCost | None


def cost_of_next_test(lot: Lot, rules: BenchRules) -> TestCost:
    """Reads the lot's estimate: ask with ``estimate`` selected when asking about many."""
    size = suggested_size(lot)
    plan = plan_for_lot(lot.balance, rules)
    few = None if plan is None else _few_seeds(plan, likely_germination(lot, rules))
    return TestCost(lot.balance, size.seeds, cost_of(lot, size.seeds), few)


def _few_seeds(plan: SequentialPlan, germination: float) -> FewSeedsCost:
    return FewSeedsCost(plan.group, plan.most, _expected(plan, round(100 * germination)))


@lru_cache(maxsize=2048)
def _expected(plan: SequentialPlan, percent: int) -> float:
    """For a germination in whole percent, so that lots of one size share the figure."""
    return operating_point(plan, germination=percent / 100).expected_seeds
