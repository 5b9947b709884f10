"""What happened at the bench lately, so that a coordinator finds something of every kind."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from functools import partial

from django.utils import timezone

from library.demo import bench, dishes, source
from library.demo.world import World
from library.germination import services as germination
from library.germination.models import GerminationTest, LotEstimate
from library.stock.models import Lot

SPOILT_AGO = 130  # dishes that disagreed, and the lot was tested again
DISAGREEING_AGO = 27  # dishes that disagreed, and it still has to be
DECIDED_AGO = {"keep": 16, "withhold": 6}
COUNTED_ON = 7  # lots that somebody counts on for the next spring
SOWN = (4, 18)
LIVELY = 0.85
SHORT_TEST_DAYS = 14


def ago(world: World, days: int) -> dt.date:
    return world.today - dt.timedelta(days=days)


def plan(world: World) -> None:
    for days, deed in (
        (SPOILT_AGO, spoil_and_test_again),
        (DISAGREEING_AGO, spoil_and_leave),
    ):
        world.diary.on(ago(world, days), partial(deed, world, ago(world, days)))
    for decision, days in DECIDED_AGO.items():
        day = ago(world, days)
        world.diary.on(day, partial(decide_two, world, decision, day))


def arrange(world: World) -> None:
    """What is corrected and planned on the last day."""
    amend_one(world)
    count_on_some(world)


# Dishes that disagree ---------------------------------------------------------------------
def spoil_and_test_again(world: World, on: dt.date) -> None:
    _spoil(world, on, then=bench.after_retest)


def spoil_and_leave(world: World, on: dt.date) -> None:
    _spoil(world, on, then=lambda *_result: None)


def _spoil(world: World, on: dt.date, then: dishes.Then) -> None:
    """Of two dishes one dries out on the sunny end of the sill."""
    lot = next(_lively_jars(world, on), None)
    if lot is None:
        return
    world.next_test[lot.pk] = on
    dishes.plan(world, lot, on, then, note="One dish stood at the sunny end.")
    world.spoilt.add(lot.germination_tests.planned().get().pk)


def _lively_jars(world: World, on: dt.date) -> Iterator[Lot]:
    """Jars of which a whole test can be spared and nearly all should come up, oldest first."""
    jars = Lot.objects.with_variety().filter(
        awaits_first_test=False, withheld_reason="", counted_as="seed", custodian=None
    )
    busy = GerminationTest.objects.filter(state__in=("planned", "running")).values("lot")
    for lot in jars.exclude(pk__in=busy).filter(loose__gte=300).order_by("pk"):
        quick = dishes.days_for(world, lot).final <= SHORT_TEST_DAYS
        if quick and not dishes.few_seeds(lot) and world.vigour[lot.pk].share(on) > LIVELY:
            yield lot


# Lots to regrow ---------------------------------------------------------------------------
def decide_two(world: World, decision: str, on: dt.date) -> None:
    """Two of the lots that should be regrown go on being lent, or are taken off the shelf."""
    flagged = LotEstimate.objects.to_regrow().filter(decided="", lot__withheld_reason="")
    weakest_first = flagged.filter(lot__packed__gt=0).with_lot().order_by("median", "lot")
    rows = list(weakest_first[:6])
    chosen = rows[:2] if decision == LotEstimate.Decided.WITHHOLD else rows[-2:]
    for estimate in chosen:
        decided = germination.decide_shelf(
            lot=estimate.lot,
            decision=decision,
            reason=world.say(f"shelf_{decision}"),
            by=world.coordinator,
        )
        world.decided_on[decided.pk] = on


# A correction -----------------------------------------------------------------------------
def amend_one(world: World) -> None:
    """Two seedlings without a root had been taken for whole ones."""
    closed = GerminationTest.objects.closed().filter(
        kind=GerminationTest.Kind.FIXED, replicates__normal__gte=10
    )
    test = closed.with_lot().distinct().order_by("closed_on", "pk").last()
    if test is None:
        return
    dish = max(test.replicates.all(), key=lambda dish: dish.normal)
    counts = {"normal": dish.normal - 2, "abnormal": dish.abnormal + 2, "dead": dish.dead}
    germination.amend_test(
        test=test,
        dishes={dish.number: counts},
        reason="two seedlings had no root; they were counted as normal by lamplight",
        by=world.bench,
    )


# Next spring ------------------------------------------------------------------------------
def count_on_some(world: World) -> None:
    """Grow-outs of next season that rest on a lot: it is tested in time for them."""
    spring = _next_spring(world)
    lots = (
        Lot.objects.with_seed()
        .with_variety()
        .filter(variety__is_rare=True, withheld_reason="", counted_as="seed")
    )
    newest: dict[int, Lot] = {}
    for lot in lots.order_by("received_on", "pk"):
        newest[lot.variety_id] = lot
    counted_on = list(newest.values())[:COUNTED_ON]
    for lot, what_for in zip(counted_on, source.words("sowings"), strict=False):
        germination.expect_sowing(lot=lot, on=spring, what_for=what_for, by=world.coordinator)
        spring += dt.timedelta(days=4)


def _next_spring(world: World) -> dt.date:
    """The first that is still to come, also for those who live in an earlier year."""
    today = max(world.today, timezone.localdate())
    return dt.date(today.year + 1, *SOWN)
