"""The germination bench: first tests, retests, and packing what passed."""

from __future__ import annotations

import datetime as dt
from functools import partial
from typing import Any

from library.catalogue.models import CountedAs
from library.demo.world import World
from library.germination import services as germination
from library.germination.models import BenchRules
from library.stock import services as stock
from library.stock.models import Lot

LEFT_UNTESTED_DAYS = 40  # what fell due so lately is still on the bench's list
LEFT_UNTESTED_SHARE = 0.5
KEPT_IN_JAR = 0.5
MOST_PACKETS = 5
CLEARED = 0.95  # the share of old lots that go when there is one newer lot
WORTH_PACKING = 45  # per cent


def fresh(pk: int) -> Lot:
    return Lot.objects.with_variety().get(pk=pk)


def expect_first_test(world: World, lot: Lot, on: dt.date) -> None:
    """A new lot is tested within some weeks; tubers and cloves show at once."""
    keeps = lot.counted_as == CountedAs.SEED
    begun = world.after(on, 4, 30) if keeps else world.after(on, 1, 3)
    counted = world.after(begun, 9, 16) if keeps else world.after(begun, 5, 8)
    world.diary.on(counted, partial(first_test, world, lot.pk, begun, counted))


def first_test(world: World, pk: int, begun: dt.date, counted: dt.date) -> None:
    lot = fresh(pk)
    percent = run_test(world, lot, begun, counted)
    if percent is None:
        return
    if percent >= WORTH_PACKING and not lot.withheld_reason:
        pack(world, fresh(pk), counted)
    plan_retest(world, pk, counted)


def run_test(
    world: World, lot: Lot, begun: dt.date, counted: dt.date, *, note: str = ""
) -> float | None:
    """Test a sample of a lot as large as it can spare; None when there is nothing to spare."""
    dishes = dishes_for(world, lot)
    if not dishes:
        return None
    share = world.vigour[lot.pk].share(begun)
    counts = [sprouted(world, lot, seeds, share) for seeds in dishes]
    germination.record_test(
        lot=lot,
        replicates=counts,
        started_on=begun,
        closed_on=counted,
        by=world.bench,
        substrate="" if lot.counted_as != CountedAs.SEED else "on damp paper",
        temperature_c="20",
        note=note,
    )
    return 100 * sum(dish["normal"] for dish in counts) / sum(dishes)


def dishes_for(world: World, lot: Lot) -> list[int]:
    """Two dishes of the usual size, or of a tenth of what is left where that is less."""
    habit = world.habit(lot.variety)
    spared = max(5, lot.balance // (5 * habit.dishes))
    each = min(habit.seeds_in_dish, spared)
    return [each] * habit.dishes if each * habit.dishes <= lot.balance else []


def sprouted(world: World, lot: Lot, seeds: int, share: float) -> dict[str, int]:
    """One dish, seed by seed."""
    counts = dict.fromkeys(("normal", "abnormal", "hard", "fresh", "dead"), 0)
    may_be_hard = lot.variety.crop.species.family == "Fabaceae"
    for _seed in range(seeds):
        if world.rng.random() < share:
            counts["normal"] += 1
        else:
            counts[_why_not(world, may_be_hard)] += 1
    return {"seeds": seeds, **counts}


def _why_not(world: World, may_be_hard: bool) -> str:
    weights = {"dead": 62, "abnormal": 22, "fresh": 6, "hard": 10 if may_be_hard else 0}
    return world.rng.choices(list(weights), list(weights.values()))[0]


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


def plan_retest(world: World, pk: int, on: dt.date) -> None:
    """Test again about when it is due; what is due by now waits for whoever signs in."""
    dates: Any = Lot.objects.values_list("test_date__due_on", flat=True)
    due = dates.get(pk=pk)
    if due is None:
        return
    begun = max(world.after(due, -12, 20), on + dt.timedelta(days=2))
    late = (world.today - begun).days
    if late < LEFT_UNTESTED_DAYS and world.rng.random() < LEFT_UNTESTED_SHARE:
        return
    counted = world.after(begun, 9, 16)
    world.diary.on(counted, partial(retest, world, pk, begun, counted))


def retest(world: World, pk: int, begun: dt.date, counted: dt.date) -> None:
    """Test an old lot again, or clear it out when there is newer seed."""
    lot = fresh(pk)
    if not lot.balance or lot.withheld_reason:
        return
    if _superseded(world, lot, counted):
        stock.discard_rest(
            lot=lot, on=counted, by=world.bench, reason="old seed; newer lots of it were tested"
        )
        return
    percent = run_test(world, lot, begun, counted)
    if percent is None:
        _sow_the_last(world, lot, counted)
        return
    left = fresh(pk)
    poor = percent < BenchRules.current().standard_percent / 2
    if poor and left.balance and _newer(lot) >= 1:
        stock.discard_rest(
            lot=left, on=counted, by=world.bench, reason="too little of it still sprouts"
        )
        return
    plan_retest(world, pk, counted)


def _sow_the_last(world: World, lot: Lot, on: dt.date) -> None:
    """Too few to test: a coordinator sows them to see, and packets go with the jar."""
    by = world.coordinator
    reason = "too few left to test; sown by Yarrow, to see"
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
