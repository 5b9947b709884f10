"""Deciding with few seeds: above, below, or another group."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from library.science.sequential import (
    Outcome,
    SequentialPlan,
    decide,
    fixed_test,
    operating_point,
    plan_for,
)

PLAN = SequentialPlan(good=0.85, poor=0.65, alpha=0.1, beta=0.1, group=10, most=50)


@st.composite
def plans(draw):
    poor, good = sorted(draw(st.lists(st.integers(2, 98), min_size=2, max_size=2, unique=True)))
    most = draw(st.integers(1, 60))
    return SequentialPlan(
        good=good / 100,
        poor=poor / 100,
        alpha=draw(st.floats(0.01, 0.4)),
        beta=draw(st.floats(0.01, 0.4)),
        group=draw(st.integers(1, most)),
        most=most,
    )


def by_every_path(plan, germination):
    """The chance of "above" and the mean cost, by walking each test seed by seed."""
    from scipy.stats import binom

    above = cost = 0.0
    going = {(0, 0): 1.0}
    while going:
        after = {}
        for (germinated, sown), chance in going.items():
            verdict = decide(plan, germinated=germinated, sown=sown)
            if verdict.outcome is not Outcome.SOW_MORE:
                above += chance * (verdict.outcome is Outcome.ABOVE)
                cost += chance * sown
                continue
            step = verdict.sow_next
            for more in range(step + 1):
                key = (germinated + more, sown + step)
                after[key] = after.get(key, 0) + chance * binom.pmf(more, step, germination)
        going = after
    return above, cost


@settings(max_examples=15)
@given(plans(), st.integers(0, 1000).map(lambda k: k / 1000))
def test_the_operating_point_is_the_sum_over_every_path(plan, germination):
    point = operating_point(plan, germination=germination)

    assert (point.chance_above, point.expected_seeds) == pytest.approx(
        by_every_path(plan, germination), abs=1e-9
    )


@settings(max_examples=40)
@given(plans(), st.floats(0, 1), st.floats(0, 1))
def test_better_seed_is_called_above_no_less_often(plan, one, other):
    worse, better = sorted((one, other))

    assert (
        operating_point(plan, germination=worse).chance_above
        <= operating_point(plan, germination=better).chance_above + 1e-9
    )


@settings(max_examples=40)
@given(plans(), st.floats(0, 1))
def test_no_more_seeds_are_spent_than_allowed(plan, germination):
    cost = operating_point(plan, germination=germination).expected_seeds

    assert min(plan.group, plan.most) - 1e-9 <= cost <= plan.most + 1e-9


@given(plans(), st.data())
def test_a_seedling_more_never_turns_above_into_anything_worse(plan, data):
    order = [Outcome.BELOW, Outcome.SOW_MORE, Outcome.ABOVE]
    sown = data.draw(st.integers(1, plan.most))
    germinated = data.draw(st.integers(0, sown - 1))

    fewer, more = (
        order.index(decide(plan, germinated=count, sown=sown).outcome)
        for count in (germinated, germinated + 1)
    )

    assert fewer <= more


@pytest.mark.parametrize(("germination", "chance"), [(0, 0), (5e-324, 0), (1e-308, 0), (1, 1)])
def test_a_plan_is_sure_of_dead_and_of_perfect_seed(germination, chance):
    point = operating_point(PLAN, germination=germination)

    assert point.chance_above == pytest.approx(chance, abs=1e-9)
    assert point.expected_seeds == pytest.approx(10)


def test_before_any_seed_a_group_is_sown():
    verdict = decide(PLAN, germinated=0, sown=0)

    assert (verdict.outcome, verdict.sow_next) == (Outcome.SOW_MORE, 10)


@pytest.mark.parametrize(
    ("germinated", "sown", "outcome", "sow_next"),
    [
        (10, 10, Outcome.ABOVE, 0),
        (9, 10, Outcome.SOW_MORE, 10),
        (18, 20, Outcome.ABOVE, 0),
        (17, 20, Outcome.SOW_MORE, 10),
        (6, 10, Outcome.SOW_MORE, 10),
        (5, 10, Outcome.BELOW, 0),
        (34, 45, Outcome.SOW_MORE, 5),
    ],
)
def test_each_group_is_judged(germinated, sown, outcome, sow_next):
    verdict = decide(PLAN, germinated=germinated, sown=sown)

    assert (verdict.outcome, verdict.sow_next, verdict.cut_off) == (outcome, sow_next, False)


@pytest.mark.parametrize(("germinated", "outcome"), [(38, Outcome.ABOVE), (37, Outcome.BELOW)])
def test_when_the_seeds_run_out_the_nearer_side_is_said_with_a_warning(germinated, outcome):
    verdict = decide(PLAN, germinated=germinated, sown=50)

    assert (verdict.outcome, verdict.cut_off) == (outcome, True)


def test_a_plan_spends_no_more_than_its_share_of_the_lot():
    plan = plan_for(standard=0.75, available=600, share=0.1)

    assert (plan.most, plan.good, plan.poor) == (60, 0.825, 0.675)


def test_a_lot_too_small_for_one_group_has_no_plan():
    assert plan_for(standard=0.75, available=99, share=0.1) is None
    assert plan_for(standard=0.75, available=100, share=0.1) is not None


def test_a_plan_stays_between_none_and_all():
    high = plan_for(standard=0.95, available=1000)
    low = plan_for(standard=0.05, available=1000)

    assert (high.good, low.poor) == (0.98, 0.02)


@pytest.mark.parametrize(
    ("wrong", "sentence"),
    [
        ({"good": 0.6, "poor": 0.8}, "a poor germination below a good one"),
        ({"good": 1.0}, "both between 0 and 1"),
        ({"poor": 0.0}, "both between 0 and 1"),
        ({"alpha": 0}, "above 0 and under 0.5, such as 0.1, not 0"),
        ({"beta": 0.5}, "above 0 and under 0.5, such as 0.1, not 0.5"),
        ({"group": 0}, "not groups of 0"),
        ({"group": 101}, "no more than the 100 seeds"),
        ({"most": 2001}, "at most 2000"),
    ],
)
def test_a_plan_that_cannot_be_is_refused(wrong, sentence):
    with pytest.raises(ValueError, match=sentence):
        SequentialPlan(**{"good": 0.8, "poor": 0.6} | wrong)


@pytest.mark.parametrize(("germinated", "sown"), [(1, 0), (-1, 10), (11, 10), (0, -1)])
def test_counts_that_cannot_be_are_refused(germinated, sown):
    with pytest.raises(ValueError, match="cannot have germinated"):
        decide(PLAN, germinated=germinated, sown=sown)


@pytest.mark.parametrize("germination", [-0.1, 1.1, 80])
def test_a_germination_is_a_fraction(germination):
    with pytest.raises(ValueError, match="Germination is a fraction from 0 to 1"):
        operating_point(PLAN, germination=germination)


@pytest.mark.parametrize(
    "wrong", [{"standard": 75}, {"width": 0}, {"share": 1}, {"available": -1}]
)
def test_a_plan_for_a_lot_that_cannot_be_is_refused(wrong):
    with pytest.raises(ValueError, match=r"lies between 0 and 1|0 seeds or more"):
        plan_for(**{"standard": 0.75, "available": 500} | wrong)


def test_risks_that_no_fixed_test_can_keep_are_refused():
    with pytest.raises(ValueError, match=r"tells 0\.8 from 0\.801 at these risks"):
        fixed_test(good=0.801, poor=0.8, alpha=0.01, beta=0.01)
