"""Whatever the bench does, in any order: the dishes, their days and the lots' seed add up.

Hypothesis makes up whole histories of a bench (planning, beginning, counting, sowing more,
closing, amending, setting aside), right and wrong steps mixed. Beside the database the test
keeps the days' counts and the seed in plain numbers. A refused step has changed nothing.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict

import pytest
from django.db import transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from library.errors import Refused
from library.germination import services
from library.germination.models import DayCount, GerminationTest, Replicate, TestAmendment
from library.germination.services.counts import BY_DAY
from library.stock import services as stock
from library.stock.checks import problems
from library.stock.models import Lot, Movement

START = dt.date(2025, 11, 1)
SHARE = 10  # per cent, as the rules of the bench have it at first
ANY = st.integers(0, 10_000)
KIND = st.sampled_from(["fixed", "sequential", "sequential"])
SEEDS = st.integers(1, 12) | st.integers(1, 12) | st.integers(-1, 400)
DAY = st.just(0) | st.just(0) | st.integers(-3, 3) | st.integers(-400, 5000)
FEW = st.integers(0, 3) | st.integers(0, 3) | st.integers(-1, 30)
MANY = st.integers(3, 9) | st.integers(3, 9) | st.integers(-1, 30)
RARELY = st.sampled_from([False, False, False, True])
COUNTING = {"test__state": "running", "counted_on": None}
IN_GROUPS = {"state": "running", "kind": "sequential"}
TABLES = (GerminationTest, Replicate, DayCount, TestAmendment, Movement, Lot)


def machine_for(lots, desk):
    class Bench(RuleBasedStateMachine):
        """A bench with two lots: one can pay for tests with few seeds, the other hardly."""

        def __init__(self):
            super().__init__()
            self.transaction = transaction.atomic()
            self.transaction.__enter__()
            self.left = {lot.pk: lot.balance for lot in lots}
            self.allowed = {}
            self.days = defaultdict(dict)
            self.today = 0
            for kind in ("fixed", "sequential"):
                services.plan_test(lot=lots[0], kind=kind, on=START, by=desk)
                self.begin(1, 0)

        @rule(days=st.integers(1, 3))
        def time_passes(self, days):
            self.today += days

        @rule(lot=st.sampled_from(lots), kind=KIND, dishes=FEW, each=SEEDS, day=DAY)
        def plan(self, lot, kind, dishes, each, day):
            size = {"replicates": dishes, "seeds_each": each} if kind == "fixed" else {}
            self.attempt(services.plan_test, day, lot=lot, kind=kind, **size)

        @precondition(lambda self: GerminationTest.objects.planned().exists())
        @rule(test=ANY, day=DAY)
        def begin(self, test, day):
            test = one(GerminationTest, test, state="planned")
            if self.attempt(services.begin_test, day, test=test):
                drawn = sum(dish.seeds for dish in test.replicates.all())
                self.allowed[test.pk] = self.left[test.lot_id] * SHARE // 100
                self.left[test.lot_id] -= drawn

        @precondition(lambda self: Replicate.objects.filter(**COUNTING).exists())
        @rule(dish=ANY, day=DAY, normal=MANY, abnormal=FEW, dead=FEW)
        def count(self, dish, day, normal, abnormal, dead):
            dish = one(Replicate, dish, **COUNTING)
            self.count_in(dish, day, normal=normal, abnormal=abnormal, dead=dead)

        def count_in(self, dish, day, **counted):
            if self.attempt(services.count_dish, day, dish=dish, **counted):
                self.days[dish.pk][self.today + day] = counted

        @precondition(lambda self: GerminationTest.objects.filter(**IN_GROUPS).exists())
        @rule(test=ANY, day=DAY, normal=st.integers(5, 9), hard=FEW, sow_first=RARELY)
        def go_on(self, test, day, normal, hard, sow_first):
            """Finish a group and sow the next; now and then the other way round."""
            test = one(GerminationTest, test, **IN_GROUPS)
            if sow_first:
                self.sow_more(test, day)
            for dish in test.replicates.filter(counted_on=None):
                self.count_in(dish, day, normal=normal, abnormal=0, dead=0)
            self.attempt(services.finish_group, day, test=test, hard=hard)
            self.sow_more(test, day)

        def sow_more(self, test, day):
            if group := self.attempt(services.sow_more, day, test=test):
                self.left[test.lot_id] -= group.seeds

        @precondition(lambda self: GerminationTest.objects.running().exists())
        @rule(test=ANY, day=DAY, hard=FEW, too_many=RARELY)
        def close(self, test, day, hard, too_many):
            test = one(GerminationTest, test, state="running")
            dishes = test.replicates.filter(counted_on=None).count() + too_many
            counts = [{"hard": hard}] * dishes
            self.attempt(services.close_test, day, test=test, replicates=counts)

        @precondition(lambda self: GerminationTest.objects.closed().exists())
        @rule(test=ANY, dish=st.integers(1, 3), normal=MANY, fresh=FEW)
        def amend(self, test, dish, normal, fresh):
            test = one(GerminationTest, test, state="closed")
            dishes = {dish: {"normal": normal, "fresh": fresh}}
            self.attempt(services.amend_test, test=test, dishes=dishes, reason="slip")

        @precondition(lambda self: GerminationTest.objects.closed().exists())
        @rule(test=ANY, day=DAY, name=st.sampled_from(["started_on", "closed_on"]))
        def amend_a_day(self, test, day, name):
            test = one(GerminationTest, test, state="closed")
            asked = {name: START + dt.timedelta(days=self.today + day)}
            self.attempt(services.amend_test, test=test, reason="slip", **asked)

        @rule(test=ANY, lot=st.sampled_from(lots), seeds=SEEDS, how=st.integers(0, 9))
        def mishap(self, test, lot, seeds, how):
            """A test or some seed is lost; mostly nothing is, for want of a reason."""
            if how == 0:
                test = one(GerminationTest, test)
                self.attempt(services.void_test, test=test, reason="mixed up")
            reason = "mice" if how == 1 else " "
            if self.attempt(stock.discard, 0, lot=lot, seeds=seeds, reason=reason):
                self.left[lot.pk] -= seeds

        @invariant()
        def the_seed_adds_up(self):
            assert {lot.pk: lot.balance for lot in Lot.objects.all()} == self.left
            assert list(problems()) == []

        @invariant()
        def a_dish_holds_the_sum_of_its_days_until_it_is_finished(self):
            for dish in Replicate.objects.filter(counted_on=None):
                days = self.days[dish.pk].values()
                by_day = [sum(day[name] for day in days) for name in BY_DAY]
                assert [dish.normal, dish.abnormal, dish.dead] == by_day
                assert dish.hard == dish.fresh == 0

        @invariant()
        def a_finished_dish_accounts_for_every_seed(self):
            for dish in Replicate.objects.exclude(counted_on=None):
                assert sum(counts_of(dish).values()) == dish.seeds

        @invariant()
        def a_test_with_few_seeds_keeps_to_its_share(self):
            for test in GerminationTest.objects.filter(kind="sequential"):
                sown = sum(dish.seeds for dish in test.replicates.all())
                assert sown <= min(test.most_seeds, self.allowed.get(test.pk, 0))

        @invariant()
        def a_test_that_is_over_has_no_dish_to_count(self):
            open_dishes = Replicate.objects.filter(test__state="closed", counted_on=None)
            assert list(open_dishes) == []

        @invariant()
        def what_a_dish_says_is_what_its_newest_amendment_says(self):
            for dish in Replicate.objects.exclude(amendment=None):
                assert dish.amendment.new_value == counts_of(dish)

        def attempt(self, service, day=None, **words):
            """What the service gave; None when it refused, and then nothing has changed."""
            if day is not None:
                words["on"] = START + dt.timedelta(days=self.today + day)
            before = rows()
            try:
                return service(by=desk, **words) or True
            except Refused:
                assert rows() == before
                return None

        def teardown(self):
            """The next history begins with the same lots and none of these tests."""
            transaction.set_rollback(True)
            self.transaction.__exit__(None, None, None)

    return Bench


def counts_of(dish):
    return {name: getattr(dish, name) for name in services.COUNTS}


def one(model, number, **likely):
    """One of the rows; nine times of ten one of the likely, if there are."""
    rows = model.objects.order_by("pk")
    chosen = list(rows.filter(**likely)) if number % 10 else []
    chosen = chosen or list(rows)
    return chosen[number % len(chosen)]


def rows():
    return [list(table.objects.order_by("pk").values()) for table in TABLES]


@pytest.mark.long
def test_any_history_of_the_bench_adds_up(make_lot, variety, desk):
    lots = [make_lot(variety, seeds=3000), make_lot(variety, seeds=130, packets=2)]
    often = settings(
        max_examples=10,
        stateful_step_count=40,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
    )

    run_state_machine_as_test(machine_for(lots, desk), settings=often)
