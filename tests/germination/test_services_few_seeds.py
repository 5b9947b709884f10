"""A test with few seeds: sown group by group until the groups say above or below."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict
from math import log

import numpy as np
import pytest
from scipy.stats import binom

from library.errors import Conflict, NotEnough, Refused
from library.germination import services
from library.germination.few_seeds import most_of, plan_for_lot, plan_of, suits_few_seeds
from library.germination.models import BenchRules, LotEstimate, TestDate
from library.germination.services import cost_of_plan, decision_so_far, result_of
from library.science.sequential import Outcome
from library.stock import services as stock

ON = dt.date(2025, 11, 1)
SEQUENTIAL = "sequential"


def days(number):
    return ON + dt.timedelta(days=number)


@pytest.fixture
def lot(make_lot, variety):
    """At a tenth of the lot, a test may cost 40 seeds."""
    return make_lot(variety, seeds=400)


@pytest.fixture
def test(lot, desk):
    return services.start_test(lot=lot, kind=SEQUENTIAL, on=ON, by=desk)


@pytest.fixture
def count(test, desk):
    """``count(9)``: in the newest group nine are normal."""

    def do(normal, on=ON, **others):
        dish = test.replicates.last()
        return services.count_dish(dish=dish, on=on, by=desk, normal=normal, **others)

    return do


@pytest.fixture
def finish(test, desk, count):
    """``finish(9)``: in the newest group nine are normal, and that was all."""

    def do(normal, on=ON, **last):
        count(normal, on=on)
        return services.finish_group(test=test, on=on, by=desk, **last)

    return do


@pytest.fixture
def sow(test, desk):
    def do(on=ON):
        return services.sow_more(test=test, on=on, by=desk)

    return do


def walds_lines(sown, *, good=0.775, poor=0.625, alpha=0.1, beta=0.1):
    """Seedlings at which the lot is called below and above.

    Wald 1945, 4.1: acceptance and rejection numbers of the test of a binomial proportion, with
    "good" for the proportion that is rejected as the poor one. Written out here from the
    likelihood ratio itself, not from the library's own slope.
    """
    grew, died = log(good / poor), log((1 - good) / (1 - poor))

    def evidence(normal):
        return normal * grew + (sown - normal) * died

    above = [n for n in range(sown + 1) if evidence(n) >= log((1 - alpha) / beta)]
    below = [n for n in range(sown + 1) if evidence(n) <= -log((1 - beta) / alpha)]
    return (max(below, default=-1), min(above, default=sown + 1))


def simulated_cost(germination, *, tests=20_000, group=10, most=400):
    """The mean seeds of so many made-up tests of a lot, called by Wald's lines."""
    normal = np.zeros(tests, dtype=int)
    running, spent, sown = np.ones(tests, dtype=bool), 0, 0
    dice = np.random.default_rng(1945)
    while running.any() and sown < most:
        spent, sown = spent + group * running.sum(), sown + group
        normal += dice.binomial(group, germination, tests)
        below, above = walds_lines(sown)
        running &= (normal > below) & (normal < above)
    return spent / tests


def test_groups_are_sown_until_they_say_above(test, finish, sow, lot):
    assert finish(10).outcome == Outcome.SOW_MORE
    group = sow()

    verdict = finish(10)

    test.refresh_from_db()
    lot.refresh_from_db()
    assert (group.number, group.seeds) == (2, 10)
    assert walds_lines(20)[1] <= 20
    assert verdict.outcome == Outcome.ABOVE
    assert (test.state, test.verdict, test.cut_off) == ("closed", "above", False)
    assert lot.balance == 380
    assert TestDate.objects.get(lot=lot).kind == "retest"


def test_groups_are_sown_until_they_say_below(test, finish, lot):
    assert walds_lines(10)[0] >= 3

    verdict = finish(3)

    test.refresh_from_db()
    assert verdict.outcome == Outcome.BELOW
    assert (test.state, test.verdict) == ("closed", "below")
    assert (result_of(test).verdict, result_of(test).percent) == ("below", 30)


@pytest.mark.parametrize("normal", range(11))
def test_one_group_says_what_walds_lines_say(test, finish, normal):
    below, above = walds_lines(10)

    outcome = finish(normal).outcome

    assert (outcome == Outcome.BELOW) is (normal <= below)
    assert (outcome == Outcome.ABOVE) is (normal >= above)


def test_when_the_seeds_that_it_may_cost_run_out_the_test_is_called_and_says_so(
    test, finish, sow, lot
):
    for _group in range(3):
        assert finish(7).outcome == Outcome.SOW_MORE
        sow()

    verdict = finish(7)

    test.refresh_from_db()
    lot.refresh_from_db()
    below, above = walds_lines(40)
    assert below < 28 < above
    assert verdict.cut_off is True
    assert (test.state, test.cut_off, test.verdict) == ("closed", True, "below")
    assert result_of(test).cut_off is True
    assert lot.balance == 360  # a tenth, and not one more


def test_the_last_group_is_as_small_as_what_may_be_spent(make_lot, desk):
    lot = make_lot(seeds=150)
    test = services.start_test(lot=lot, kind=SEQUENTIAL, on=ON, by=desk)
    services.count_dish(dish=test.replicates.get(), on=ON, by=desk, normal=7)
    services.finish_group(test=test, on=ON, by=desk)

    group = services.sow_more(test=test, on=ON, by=desk)

    assert group.seeds == 5


def test_no_group_is_sown_while_one_is_counted(test, sow, lot):
    with pytest.raises(Conflict) as refusal:
        sow()

    lot.refresh_from_db()
    assert str(refusal.value) == "Group 1 is still being counted; finish it first."
    assert lot.balance == 390


def test_a_group_is_finished_once(test, finish, desk):
    finish(7)

    with pytest.raises(Conflict) as refusal:
        services.finish_group(test=test, on=ON, by=desk)

    assert str(refusal.value) == f"Every group of test {test.pk} is finished; sow another."


def test_a_finished_group_is_not_counted_on(test, finish, count):
    finish(7)

    with pytest.raises(Conflict) as refusal:
        count(8)

    assert str(refusal.value) == "Dish 1 was finished on 1 November 2025."


def test_a_test_that_has_decided_sows_no_more(test, finish, sow):
    finish(0)

    with pytest.raises(Conflict) as refusal:
        sow()

    assert str(refusal.value) == f"Test {test.pk} is closed, not running."


def test_what_is_left_of_a_group_is_hard_fresh_and_dead(test, finish):
    finish(6, hard=1, fresh=1)

    group = test.replicates.get()
    assert (group.normal, group.hard, group.fresh, group.dead) == (6, 1, 1, 2)


def test_a_group_that_does_not_add_up_is_not_finished(test, finish):
    with pytest.raises(Refused) as refusal:
        finish(6, dead=3)

    assert str(refusal.value).startswith("Dish 1 was sown with 10, and its counts add up to 9;")
    assert test.replicates.get().counted_on is None


def test_groups_follow_each_other_in_time(test, finish, sow):
    finish(7, on=days(8))

    with pytest.raises(Refused) as too_early:
        sow(on=days(7))
    sow(on=days(10))
    with pytest.raises(Refused):
        finish(7, on=days(9))

    assert str(too_early.value) == (
        "8 November 2025 is too early: the day the last group was counted was 9 November 2025."
    )


def test_another_group_is_not_sown_of_seed_that_has_left(test, finish, sow, lot, desk):
    finish(7)
    stock.discard(lot=lot, seeds=385, on=ON, by=desk, reason="mice")

    with pytest.raises(NotEnough):
        sow()

    assert test.replicates.count() == 1


def test_a_test_that_is_closed_early_says_nothing_of_the_standard(test, finish, desk):
    finish(7)

    services.close_test(test=test, replicates=[], on=days(3), by=desk)

    test.refresh_from_db()
    assert (test.state, test.closed_on, test.verdict) == ("closed", days(3), "")
    assert (result_of(test).percent, result_of(test).verdict) == (70, "")


def test_a_group_that_is_open_is_counted_when_the_test_is_closed(test, finish, sow, desk):
    finish(10)
    sow()

    services.close_test(test=test, replicates=[{"normal": 10}], on=ON, by=desk)

    test.refresh_from_db()
    assert test.verdict == "above"


def test_a_test_of_the_other_kind_has_no_groups(make_lot, desk):
    test = services.start_test(lot=make_lot(), replicates=1, seeds_each=20, on=ON, by=desk)

    for service in (services.finish_group, services.sow_more):
        with pytest.raises(Refused) as refusal:
            service(test=test, on=ON, by=desk)
        assert str(refusal.value) == (
            f"Test {test.pk} was laid out all at once; count its dishes and close it."
        )
    assert (decision_so_far(test), cost_of_plan(test)) == (None, None)


def test_more_groups_than_the_tolerance_is_tabled_for_are_not_compared(make_lot, desk):
    test = services.start_test(lot=make_lot(seeds=2000), kind=SEQUENTIAL, on=ON, by=desk)
    for _group in range(17):
        dish = test.replicates.last()
        services.count_dish(dish=dish, on=ON, by=desk, normal=7)
        services.finish_group(test=test, on=ON, by=desk)
        services.sow_more(test=test, on=ON, by=desk)

    services.close_test(test=test, replicates=[{"normal": 7}], on=ON, by=desk)

    result = result_of(test)
    assert (result.sown, result.replicates_agree) == (180, None)
    assert "more than 16: nothing to compare" in result.agreement_sentence


def test_groups_that_differ_too_much_set_no_date(test, finish, sow, lot, desk):
    finish(9)
    sow()
    services.close_test(test=test, replicates=[{"normal": 2}], on=ON, by=desk)

    result = result_of(test)
    # 7 CFR 201.55 for two groups of 10 at 55 %: 50 points.
    assert (result.range_percent, result.tolerated_range) == (70, 50)
    assert result.replicates_agree is False
    assert TestDate.objects.get(lot=lot).rule == "replicates_disagree"


@pytest.mark.parametrize(
    ("seeds", "rare", "suits"),
    [(1000, False, False), (999, False, True), (1000, True, True), (99, True, False)],
)
def test_few_seeds_suit_a_rare_or_small_lot_that_can_pay_for_a_group(
    make_variety, make_lot, seeds, rare, suits
):
    lot = make_lot(make_variety(is_rare=rare), seeds=seeds)

    assert suits_few_seeds(lot, BenchRules.current()) is suits


# What can be said before a group is finished


def test_above_is_said_as_soon_as_it_is_sure(test, finish, sow, count):
    finish(10)
    sow()
    count(6)
    assert decision_so_far(test).verdict is None
    sure = walds_lines(20)[1] - 10

    count(sure)

    so_far = decision_so_far(test)
    assert so_far.verdict.outcome == Outcome.ABOVE
    assert (so_far.sown, so_far.normal, so_far.left) == (20, 10 + sure, 10 - sure)


def test_below_is_said_as_soon_as_it_is_sure(test, count):
    sure = 10 - walds_lines(10)[0]
    count(0, dead=sure - 1)
    assert decision_so_far(test).verdict is None

    count(0, dead=sure)

    assert decision_so_far(test).verdict.outcome == Outcome.BELOW


def test_that_another_group_is_needed_is_said_as_soon_as_it_is_sure(test, count):
    count(6, dead=3)

    so_far = decision_so_far(test)

    assert (so_far.verdict.outcome, so_far.verdict.sow_next) == (Outcome.SOW_MORE, 10)
    assert (so_far.left, so_far.most) == (1, 40)


def test_hard_seed_of_a_finished_group_is_not_left(test, finish):
    finish(6, hard=2)

    assert decision_so_far(test).left == 0


def test_a_test_of_which_nothing_is_sown_says_nothing(lot, desk):
    planned = services.plan_test(lot=lot, kind=SEQUENTIAL, on=ON, by=desk)

    assert decision_so_far(planned) is None


# What it will cost


def test_a_lot_is_told_what_such_a_test_would_cost_it(make_lot):
    lot = make_lot(seeds=4000)

    cost = cost_of_plan(lot)

    assert cost.if_good == pytest.approx(simulated_cost(0.775), rel=0.03)
    assert cost.if_poor == pytest.approx(simulated_cost(0.625), rel=0.03)
    assert max(cost.if_good, cost.if_poor) < cost.fixed_seeds
    assert (cost.plan.most, cost.seeds_left, cost.germination) == (400, 4000, 0.7)


def test_the_cost_is_that_of_a_lot_as_good_as_its_estimate(make_lot):
    lot = make_lot(seeds=4000)
    LotEstimate.objects.create(
        lot=lot, on=ON, low=0.9, median=0.95, high=0.98, chance=1, standard_percent=70
    )

    good = cost_of_plan(lot)

    assert good.germination == 0.95
    assert good.expected_seeds < good.if_good
    assert good.chance_above > 0.99


def test_a_running_test_costs_what_its_own_plan_says(test, coordinator):
    services.save_bench_rules(group_seeds=50, by=coordinator)

    cost = cost_of_plan(test)

    assert (cost.plan.group, cost.plan.most) == (10, 40)
    assert cost.expected_seeds <= 40


def test_the_risks_of_a_small_lot_are_told_as_they_are(make_lot):
    # One group of 10 is all: 8 is the first count above the plan's slope of 0.704 a seed. The
    # risks are then binomial tails, as scipy computes them.
    cost = cost_of_plan(make_lot(seeds=100))

    assert cost.plan.most == 10
    assert cost.risk_good == pytest.approx(binom.cdf(7, 10, 0.775))
    assert cost.risk_poor == pytest.approx(binom.sf(7, 10, 0.625))
    assert cost.risk_good > 0.3


def test_a_lot_that_can_pay_takes_no_more_than_the_risks_of_the_rules(make_lot):
    cost = cost_of_plan(make_lot(seeds=20_000))

    assert max(cost.risk_good, cost.risk_poor) <= 0.1


def test_a_lot_that_cannot_pay_for_a_group_has_no_cost(make_lot):
    assert cost_of_plan(make_lot(seeds=99)) is None


def test_a_plan_never_costs_more_than_the_share(db):
    rules = BenchRules.current()
    for share in range(1, 51):
        rules.test_share_percent = share
        for seeds in (20, 99, 100, 101, 999, 3800):
            plan = plan_for_lot(seeds, rules)
            most = plan.most if plan else 0
            assert most == (most_of(seeds, rules) if most_of(seeds, rules) >= 10 else 0)
            assert most * 100 <= share * seeds


def test_a_plan_comes_back_as_it_was_written(test):
    test.refresh_from_db()
    written, asked = plan_of(test), plan_for_lot(400, BenchRules.current())

    assert asdict(written) == pytest.approx(asdict(asked))


@pytest.mark.parametrize("groups", [1, 6])
def test_deciding_takes_as_many_questions_for_many_groups(
    make_lot, variety, desk, groups, django_assert_num_queries
):
    lot = make_lot(variety, seeds=2000)
    test = services.start_test(lot=lot, kind=SEQUENTIAL, on=ON, by=desk)
    for number in range(1, groups + 1):
        dish = test.replicates.last()
        services.count_dish(dish=dish, on=ON, by=desk, normal=7)
        if number < groups:
            services.finish_group(test=test, on=ON, by=desk)
            services.sow_more(test=test, on=ON, by=desk)

    with django_assert_num_queries(1):
        assert decision_so_far(test).sown == 10 * groups
    with django_assert_num_queries(6):
        services.finish_group(test=test, on=ON, by=desk)
