"""The sequential test against Wald's theorems, a genebank's printed plan, and the binomial."""

import pytest
from scipy.stats import binom

from library.science.sequential import (
    Outcome,
    SequentialPlan,
    decide,
    fixed_test,
    operating_point,
)


def outcome(plan, germinated, sown):
    return decide(plan, germinated=germinated, sown=sown).outcome


# Good 90 %, poor 85 % and risks of 8.5 % are ours: the handbook prints only the counts.
GENEBANK = SequentialPlan(good=0.90, poor=0.85, alpha=0.085, beta=0.085, group=40, most=400)


@pytest.mark.parametrize(
    ("sown", "regenerate_at_most", "keep_from"),
    [
        (40, 29, None),  # read in a copy of Handbooks for Genebanks no. 8, flowchart 8.1
        (80, 64, 76),  # read there
        (120, 100, 111),  # from memory, as the rows below
        (160, 135, 146),
        (200, 170, 181),
        (240, 205, 216),
        (280, 240, 251),
    ],
)
def test_the_genebank_plan_for_85_percent_in_steps_of_40_comes_out(
    sown, regenerate_at_most, keep_from
):
    # Ellis, Hong & Roberts 1985, printed again in Handbooks for Genebanks no. 8 (2006).
    # Tolerance: none, every printed count and the one beside it.
    assert outcome(GENEBANK, regenerate_at_most, sown) is Outcome.BELOW
    assert outcome(GENEBANK, regenerate_at_most + 1, sown) is Outcome.SOW_MORE
    if keep_from is None:
        assert outcome(GENEBANK, sown, sown) is Outcome.SOW_MORE
    else:
        assert outcome(GENEBANK, keep_from, sown) is Outcome.ABOVE
        assert outcome(GENEBANK, keep_from - 1, sown) is Outcome.SOW_MORE


def test_walds_lines_for_his_defectives():
    # Wald 1947, Sequential Analysis (example from memory): 10 % and 30 % defective, risks 0.02
    # and 0.03. His formulas give slope 0.186 and intercepts 2.58 and 2.88, in defectives; seed
    # that germinates is the sound remainder. Tolerance: half a unit in the last digit.
    plan = SequentialPlan(good=0.9, poor=0.7, alpha=0.02, beta=0.03, group=1, most=100)

    assert 1 - plan.slope == pytest.approx(0.186, abs=0.0005)
    assert plan.above_by == pytest.approx(2.58, abs=0.005)
    assert plan.below_by == pytest.approx(2.88, abs=0.005)


PLANS = [
    (0.9, 0.7, 0.05, 0.05),
    (0.85, 0.6, 0.1, 0.1),
    (0.8, 0.65, 0.1, 0.05),
    (0.6, 0.3, 0.02, 0.03),
]


@pytest.mark.parametrize("group", [1, 10, 25])
@pytest.mark.parametrize(("good", "poor", "alpha", "beta"), PLANS)
def test_the_true_risks_keep_walds_bounds_when_nothing_cuts_the_test_off(
    good, poor, alpha, beta, group
):
    # Wald 1945: alpha' <= alpha / (1 - beta), beta' <= beta / (1 - alpha), and
    # alpha' + beta' <= alpha + beta.
    plan = SequentialPlan(good=good, poor=poor, alpha=alpha, beta=beta, group=group, most=2000)

    called_below = 1 - operating_point(plan, germination=good).chance_above
    called_above = operating_point(plan, germination=poor).chance_above

    assert called_below <= alpha / (1 - beta) + 1e-9
    assert called_above <= beta / (1 - alpha) + 1e-9
    assert called_below + called_above <= alpha + beta + 1e-9


@pytest.mark.parametrize(("good", "poor", "alpha", "beta"), PLANS)
def test_single_seeds_cost_what_walds_approximation_says_and_a_little_more(
    good, poor, alpha, beta
):
    # Wald 1945: E(n) is about (L log B + (1 - L) log A) / E(z), neglecting the overshoot, which
    # only ever adds; tolerance a quarter.
    from math import log

    plan = SequentialPlan(good=good, poor=poor, alpha=alpha, beta=beta, group=1, most=2000)
    step = good * log(poor / good) + (1 - good) * log((1 - poor) / (1 - good))
    approximate = (
        (1 - alpha) * log(beta / (1 - alpha)) + alpha * log((1 - beta) / alpha)
    ) / step

    exact = operating_point(plan, germination=good).expected_seeds

    assert approximate <= exact <= 1.25 * approximate


@pytest.mark.parametrize(("good", "poor", "alpha", "beta"), PLANS)
def test_on_average_it_costs_fewer_seeds_than_a_fixed_test_of_the_same_risks(
    good, poor, alpha, beta
):
    # Wald & Wolfowitz 1948: no test of the same risks needs fewer seeds on average, at either.
    plan = SequentialPlan(good=good, poor=poor, alpha=alpha, beta=beta, group=1, most=2000)
    fixed = fixed_test(good=good, poor=poor, alpha=alpha, beta=beta)

    for germination in (good, poor):
        assert operating_point(plan, germination=germination).expected_seeds < fixed.seeds


def test_the_fixed_test_keeps_its_risks_and_no_smaller_one_does():
    fixed = fixed_test(good=0.85, poor=0.65, alpha=0.05, beta=0.1)

    assert binom.cdf(fixed.at_least - 1, fixed.seeds, 0.85) <= 0.05
    assert binom.sf(fixed.at_least - 1, fixed.seeds, 0.65) <= 0.1
    for seeds in range(1, fixed.seeds):
        for least in range(seeds + 2):
            keeps_good = binom.cdf(least - 1, seeds, 0.85) <= 0.05
            assert not (keeps_good and binom.sf(least - 1, seeds, 0.65) <= 0.1)


def test_one_group_alone_is_a_binomial_test():
    plan = SequentialPlan(good=0.9, poor=0.6, alpha=0.05, beta=0.05, group=20, most=20)
    least = next(k for k in range(21) if outcome(plan, k, 20) is Outcome.ABOVE)

    for germination in (0.5, 0.75, 0.9):
        point = operating_point(plan, germination=germination)

        assert point.chance_above == pytest.approx(binom.sf(least - 1, 20, germination))
        assert point.expected_seeds == pytest.approx(20)
