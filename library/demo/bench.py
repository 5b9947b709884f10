"""The germination bench: first tests, retests, and packing what passed."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import Any

from library.catalogue.models import CountedAs
from library.demo import dishes
from library.demo.dishes import fresh
from library.demo.world import World
from library.germination.models import BenchRules, TestDate
from library.stock import services as stock
from library.stock.models import Lot

LEFT_UNTESTED_DAYS = 40  # what fell due so lately is still on the bench's list
LEFT_UNTESTED_SHARE = 0.5
KEPT_IN_JAR = 0.5
MOST_PACKETS = 5
CLEARED = 0.95  # the share of old lots that go when there is one newer lot
GIVEN_UP = 0.8  # the share of lots below the standard that go when there is newer seed
HOPELESS = 8  # per cent
WORTH_PACKING = 45  # per cent


# First tests ------------------------------------------------------------------------------
def expect_first_test(world: World, lot: Lot, on: dt.date) -> None:
    """A new lot is tested within some weeks; tubers and cloves show at once."""
    keeps = lot.counted_as == CountedAs.SEED
    begun = world.after(on, 4, 30) if keeps else world.after(on, 1, 3)
    first_test(world, lot, begun, since=on)


def first_test(world: World, lot: Lot, begun: dt.date, *, since: dt.date) -> None:
    _test(world, lot, begun, since, before=_always, then=after_first)


def _always(world: World, lot: Lot, on: dt.date) -> bool:
    return True


def after_first(world: World, pk: int, percent: float | None, on: dt.date) -> None:
    if percent is None:
        return
    lot = fresh(pk)
    if _given_up(world, lot, percent, on):
        return
    if percent >= WORTH_PACKING and not lot.withheld_reason and not lot.awaits_first_test:
        pack(world, lot, on)
    plan_retest(world, lot, on)


def _test(
    world: World, lot: Lot, begun: dt.date, since: dt.date, *, before: Any, then: dishes.Then
) -> None:
    """Write a test into the diary, in the manner of its time.

    ``before`` is asked when its day has come whether the lot is worth a test.
    """
    world.next_test[lot.pk] = begun
    if dishes.by_day(world, begun):
        low, high = dishes.PLANNED_DAYS
        planned = max(since, world.after(begun, -high, -low))
        world.diary.on(planned, partial(_plan, world, lot.pk, planned, begun, before, then))
        return
    counted = begun + dt.timedelta(days=dishes.days_for(world, lot).final)
    world.diary.on(counted, partial(_write_down, world, lot.pk, begun, counted, before, then))


def _plan(
    world: World, pk: int, on: dt.date, begun: dt.date, before: Any, then: dishes.Then
) -> None:
    lot = fresh(pk)
    if world.next_test[pk] == begun and before(world, lot, on):
        dishes.plan(world, lot, begun, then)


def _write_down(
    world: World, pk: int, begun: dt.date, counted: dt.date, before: Any, then: dishes.Then
) -> None:
    lot = fresh(pk)
    if world.next_test[pk] == begun and before(world, lot, counted):
        then(world, pk, dishes.write_down(world, lot, begun, counted), counted)


# Packets ----------------------------------------------------------------------------------
def pack(world: World, lot: Lot, on: dt.date, *, most: int = MOST_PACKETS) -> None:
    """Fill packets, and keep a good part of the lot in the jar."""
    habit = world.habit(lot.variety)
    seeds = habit.packet
    packets = min(most, round(lot.loose * (1 - KEPT_IN_JAR)) // seeds)
    if packets >= 1:
        stock.pack(
            lot=lot,
            packets=packets,
            seeds_each=seeds,
            on=on,
            by=world.at_desk(on),
            storage_place=world.places[habit.place],
        )


# Retests ----------------------------------------------------------------------------------
def plan_retest(world: World, lot: Lot, on: dt.date) -> None:
    """Test again about when it is due; what is due by now waits for whoever signs in."""
    due = TestDate.objects.filter(lot=lot).values_list("due_on", flat=True).first()
    if due is None:
        return
    begun = max(world.after(due, -12, 20), on + dt.timedelta(days=2))
    late = (world.today - begun).days
    if late < LEFT_UNTESTED_DAYS and world.rng.random() < LEFT_UNTESTED_SHARE:
        return
    _test(world, lot, begun, on, before=_worth_a_retest, then=after_retest)


def _worth_a_retest(world: World, lot: Lot, on: dt.date) -> bool:
    """Whether to test an old lot again; it is cleared out when there is newer seed."""
    if not lot.balance or lot.withheld_reason:
        return False
    if _superseded(world, lot, on):
        reason = "old seed; newer lots of it were tested"
        stock.discard_rest(lot=lot, on=on, by=world.bench, reason=reason)
        return False
    return True


def after_retest(world: World, pk: int, percent: float | None, on: dt.date) -> None:
    lot = fresh(pk)
    if percent is None:
        _sow_the_last(world, lot, on, "too few left to test; sown by Yarrow, to see")
        return
    if not _given_up(world, lot, percent, on):
        plan_retest(world, lot, on)


def _given_up(world: World, lot: Lot, percent: float, on: dt.date) -> bool:
    """Poor seed goes when there is newer seed, some of it kept in case; what twice hardly
    sprouted is sown to the last.
    """
    if percent < HOPELESS and lot.germination_tests.closed().count() > 1:
        _sow_the_last(world, lot, on, "hardly any sprouts any more; all sown by Yarrow, to see")
        return True
    standard = BenchRules.current().standard_percent
    poor = percent < standard / 2 or (percent < standard and world.rng.random() < GIVEN_UP)
    if not poor or not lot.balance or lot.withheld_reason or not _newer(lot):
        return False
    reason = "too little of it still sprouts, and there is newer seed"
    stock.discard_rest(lot=lot, on=on, by=world.bench, reason=reason)
    return True


def _sow_the_last(world: World, lot: Lot, on: dt.date, reason: str) -> None:
    """A coordinator sows what is left, to see, and packets go with the jar."""
    by = world.coordinator
    for packet in lot.packets.on_shelf().order_by("pk"):
        stock.give_away(lot=lot, packet=packet, on=on, by=by, reason=reason)
    if lot.loose:
        stock.give_away(lot=lot, seeds=lot.loose, on=on, by=by, reason=reason)


def _superseded(world: World, lot: Lot, on: dt.date) -> bool:
    newer = _newer(lot)
    return newer >= 2 or (newer == 1 and world.rng.random() < CLEARED)


def _newer(lot: Lot) -> int:
    """Tested lots of the same variety, received later, with seed left."""
    later = Lot.objects.with_seed().filter(
        variety=lot.variety_id, received_on__gt=lot.received_on, awaits_first_test=False
    )
    return later.filter(withheld_reason="").count()
