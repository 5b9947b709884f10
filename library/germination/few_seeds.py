"""Tests with few seeds: their plan, what the groups so far say, and what it will cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from library.germination.method import suggested_size
from library.germination.models import BenchRules, GerminationTest, LotEstimate, Replicate
from library.science.sequential import (
    Outcome,
    SequentialPlan,
    Verdict,
    decide,
    fixed_test,
    operating_point,
    plan_for,
)
from library.stock.models import Lot

SPARED_OF_PLENTY = 100


def plan_for_lot(seeds: int, rules: BenchRules) -> SequentialPlan | None:
    """The plan for a lot with so many seeds left; None when a group is more than its share."""
    return plan_for(
        standard=rules.standard_percent / 100,
        width=rules.width_points / 100,
        alpha=rules.risk_good_percent / 100,
        beta=rules.risk_poor_percent / 100,
        group=rules.group_seeds,
        available=seeds,
        share=rules.test_share_percent / 100,
    )


def suits_few_seeds(lot: Lot, rules: BenchRules) -> bool:
    """Whether the lot is rare or small, and can pay for a group of seeds.

    Common practice, no source: small is what cannot spare four dishes of 25.
    """
    scarce = lot.variety.is_rare or suggested_size(lot).seeds < SPARED_OF_PLENTY
    return scarce and plan_for_lot(lot.balance, rules) is not None


def most_of(seeds: int, rules: BenchRules) -> int:
    """How many of so many seeds a test may cost."""
    return seeds * rules.test_share_percent // 100


def plan_of(test: GerminationTest) -> SequentialPlan | None:
    """The plan that a test was given; None for one that is laid out all at once."""
    if (
        test.good_percent is None
        or test.poor_percent is None
        or test.risk_good_percent is None
        or test.risk_poor_percent is None
        or test.group_seeds is None
        or test.most_seeds is None
    ):
        return None
    return SequentialPlan(
        good=float(test.good_percent) / 100,
        poor=float(test.poor_percent) / 100,
        alpha=test.risk_good_percent / 100,
        beta=test.risk_poor_percent / 100,
        group=test.group_seeds,
        most=test.most_seeds,
    )


@dataclass(frozen=True)
class SoFar:
    """What the groups of a test say already: seeds sown, counted normal, and not counted yet.

    ``verdict`` is None while it hangs on those that are not counted yet.
    """

    sown: int
    normal: int
    left: int
    most: int
    verdict: Verdict | None


def decision_so_far(test: GerminationTest) -> SoFar | None:
    """What is certain, whatever becomes of the seeds that are not counted yet.

    None for a test that is laid out all at once, or of which nothing is sown.
    """
    plan, groups = plan_of(test), list(test.replicates.all())
    if plan is None or not groups:
        return None
    sown = sum(group.seeds for group in groups)
    normal = sum(group.normal for group in groups)
    left = sum(_not_counted(group) for group in groups)
    if_dead = decide(plan, germinated=normal, sown=sown)
    if_alive = decide(plan, germinated=normal + left, sown=sown)
    sure = if_dead.outcome == if_alive.outcome
    return SoFar(sown, normal, left, plan.most, if_dead if sure else None)


def _not_counted(group: Replicate) -> int:
    if group.counted_on is not None:
        return 0
    return group.seeds - group.normal - group.abnormal - group.dead


def verdict_of(plan: SequentialPlan, groups: Sequence[Replicate]) -> Verdict:
    """What groups that are finished say."""
    normal, sown = sum(g.normal for g in groups), sum(g.seeds for g in groups)
    return decide(plan, germinated=normal, sown=sown)


def set_verdict(test: GerminationTest, groups: Sequence[Replicate]) -> None:
    """Let a test that is over say what its groups decide, if they decide anything."""
    plan = plan_of(test)
    if plan is not None:
        verdict = verdict_of(plan, groups)
        decided = verdict.outcome != Outcome.SOW_MORE
        test.verdict = verdict.outcome.value if decided else ""
        test.cut_off = verdict.cut_off


@dataclass(frozen=True)
class PlanCost:
    """What a test with few seeds is expected to cost, in seeds, were the lot as is likely.

    ``germination`` is the lot's likely germination (0 to 1) and ``chance_above`` the chance
    that the test then says "above". ``if_good`` and ``if_poor`` are the seeds expected of a lot
    that is just good, or just poor; ``risk_good`` and ``risk_poor`` the exact chances that it
    is then called wrongly: larger than the rules ask where the seeds may run out first.
    """

    plan: SequentialPlan
    seeds_left: int
    germination: float
    chance_above: float
    expected_seeds: float
    if_good: float
    if_poor: float
    risk_good: float
    risk_poor: float

    @cached_property
    def fixed_seeds(self) -> int:
        """The seeds of a test of one size with the risks that the rules allow."""
        plan = self.plan
        return fixed_test(
            good=plan.good, poor=plan.poor, alpha=plan.alpha, beta=plan.beta
        ).seeds


def cost_of_plan(
    subject: GerminationTest | Lot, *, rules: BenchRules | None = None
) -> PlanCost | None:
    """What a test with few seeds costs, or would cost a lot by the rules of the bench.

    None for a test that is laid out all at once, and for a lot of which one group would be more
    than its share. Ask with ``lot__estimate`` selected when asking about many.
    """
    lot = subject if isinstance(subject, Lot) else subject.lot
    rules = rules or BenchRules.current()
    plan = _plan_for(subject, rules)
    if plan is None:
        return None
    likely = operating_point(plan, germination=likely_germination(lot, rules))
    good = operating_point(plan, germination=plan.good)
    poor = operating_point(plan, germination=plan.poor)
    return PlanCost(
        plan=plan,
        seeds_left=lot.balance,
        germination=likely.germination,
        chance_above=likely.chance_above,
        expected_seeds=likely.expected_seeds,
        if_good=good.expected_seeds,
        if_poor=poor.expected_seeds,
        risk_good=1 - good.chance_above,
        risk_poor=poor.chance_above,
    )


def _plan_for(subject: GerminationTest | Lot, rules: BenchRules) -> SequentialPlan | None:
    if isinstance(subject, Lot):
        return plan_for_lot(subject.balance, rules)
    return plan_of(subject)


def likely_germination(lot: Lot, rules: BenchRules) -> float:
    """The lot's estimate, else the library's standard."""
    try:
        return lot.estimate.median
    except LotEstimate.DoesNotExist:
        return rules.standard_percent / 100
