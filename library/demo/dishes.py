"""A test in its dishes: counted day by day on the window sill, or written down when it is over.

In its first years the bench kept a notebook and wrote each test down when it was over. Later a
test is planned, laid out, and counted on the days that are published for its species; small and
rare lots are tested with few seeds.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

from django.db.models import Sum

from library.catalogue.models import CountedAs
from library.demo.world import World
from library.errors import Refused
from library.germination import services as germination
from library.germination.method import conditions_for
from library.germination.models import GerminationTest, Replicate
from library.science.sequential import Outcome
from library.stock.models import Lot


@dataclass(frozen=True)
class Days:
    """On which days after it was laid out a test is counted."""

    first: int
    final: int

    def looks(self) -> list[int]:
        """Every day of counting, the last one included."""
        between = [(self.first + self.final) // 2] if self.final - self.first >= 6 else []
        return [self.first, *between, self.final]


COUNTED_BY_DAY_FROM = 7  # the season in which the notebook was given up
USUAL_FIRST, USUAL_FINAL = 5, 12  # days, where nothing is published
FEW_SEEDS_UNDER = {True: 500, False: 180}  # lots so small, of a rare variety or not
SPOILT = 0.03  # the share of dishes that dried out or went mouldy
SPOILT_LEAVES = 0.45
PLANNED_DAYS = (4, 12)  # before it is laid out

CLONES_SHOW = Days(3, 6)

# What happens after a test: the lot, the percent that sprouted (None: not tested), the day.
Then = Callable[[World, int, float | None, dt.date], None]


def fresh(pk: int) -> Lot:
    return Lot.objects.with_variety().get(pk=pk)


def days_for(world: World, lot: Lot) -> Days:
    """As published for the species; tubers and cloves show at once."""
    if lot.counted_as != CountedAs.SEED:
        return CLONES_SHOW
    species = lot.variety.crop.species_id
    if species not in world.test_days:
        method = conditions_for(lot)
        final = method.final_count_days or USUAL_FINAL
        first = method.first_count_days or USUAL_FIRST
        world.test_days[species] = (min(first, final - 1), final)
    return Days(*world.test_days[species])


def by_day(world: World, on: dt.date) -> bool:
    return world.season(on) >= COUNTED_BY_DAY_FROM


def dishes_for(world: World, lot: Lot) -> list[int]:
    """Two dishes of the usual size, or of a tenth of what is left where that is less."""
    habit = world.habit(lot.variety)
    spared = max(5, lot.balance // (5 * habit.dishes))
    each = min(habit.seeds_in_dish, spared)
    return [each] * habit.dishes if each * habit.dishes <= lot.balance else []


def few_seeds(lot: Lot) -> bool:
    """Whether so little of it is left that a whole test would cost too much."""
    return (
        lot.counted_as == CountedAs.SEED and lot.balance < FEW_SEEDS_UNDER[lot.variety.is_rare]
    )


# Written down when it is over -------------------------------------------------------------
def write_down(
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
        note=note,
    )
    return 100 * sum(dish["normal"] for dish in counts) / sum(dishes)


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


# Day by day -------------------------------------------------------------------------------
def plan(world: World, lot: Lot, on: dt.date, then: Then, *, note: str = "") -> None:
    """Write a test down for a day to come, and lay it out on that day."""
    dishes = dishes_for(world, lot)
    if not dishes:
        world.diary.on(on, partial(then, world, lot.pk, None, on))
        return
    test = _few_seeds(world, lot, on, note) if few_seeds(lot) else None
    if test is None:
        test = _all_at_once(world, lot, dishes, on, note)
    world.diary.on(on, partial(begin, world, test.pk, on, then))


def _all_at_once(
    world: World, lot: Lot, dishes: list[int], on: dt.date, note: str
) -> GerminationTest:
    return germination.plan_test(
        lot=lot,
        on=on,
        by=world.bench,
        replicates=len(dishes),
        seeds_each=dishes[0],
        note=note,
    )


def _few_seeds(world: World, lot: Lot, on: dt.date, note: str) -> GerminationTest | None:
    """None when even one group would cost more than a test may."""
    try:
        return germination.plan_test(
            lot=lot, on=on, by=world.bench, kind=GerminationTest.Kind.SEQUENTIAL, note=note
        )
    except Refused:
        return None


def begin(world: World, pk: int, on: dt.date, then: Then) -> None:
    """Lay a planned test out, or what can be tested of the seed that was left meanwhile."""
    test = test_of(pk)
    try:
        germination.begin_test(test=test, on=on, by=world.bench)
    except Refused:
        _begin_smaller(world, test, on, then)
        return
    for dish in test_of(pk).replicates.all():
        watch(world, test, dish, on, then)


def _begin_smaller(world: World, test: GerminationTest, on: dt.date, then: Then) -> None:
    said = "too much of the lot was lent before it could be laid out"
    germination.void_test(test=test, reason=said, by=world.bench)
    lot = fresh(test.lot_id)
    if dishes := dishes_for(world, lot):
        smaller = _all_at_once(world, lot, dishes, on, test.note)
        begin(world, smaller.pk, on, then)
    elif lot.balance:
        then(world, lot.pk, None, on)


def watch(
    world: World, test: GerminationTest, dish: Replicate, sown: dt.date, then: Then
) -> None:
    """Decide what will come up in a dish on which day, and write every look at it down."""
    share = world.vigour[test.lot_id].share(sown)
    if world.rng.random() < SPOILT or (test.pk in world.spoilt and dish.number == 1):
        share *= SPOILT_LEAVES
    counts = sprouted(world, test.lot, dish.seeds, share)
    looks = days_for(world, test.lot).looks()
    seen = _spread(world, counts["normal"], share, looks)
    for days, normal in zip(looks[:-1], seen[:-1], strict=True):
        day = sown + dt.timedelta(days=days)
        world.diary.on(day, partial(count, world, dish.pk, day, normal))
    last = sown + dt.timedelta(days=looks[-1])
    if test.kind == GerminationTest.Kind.SEQUENTIAL:
        deed = partial(finish_group, world, test.pk, dish.pk, counts, seen[-1], last, then)
    else:
        world.last_counts.setdefault(test.pk, []).append(counts)
        if dish.number > 1:  # the first dish's last look closes all of them
            return
        deed = partial(close, world, test.pk, last, then)
    world.diary.on(last, deed)


def _spread(world: World, normal: int, share: float, looks: list[int]) -> list[int]:
    """How many seedlings are taken out at each look: lively seed is quick."""
    seen = [0] * len(looks)
    early = [share, *[0.4] * (len(looks) - 2), 1.05 - share]
    for at in world.rng.choices(range(len(looks)), early, k=normal):
        seen[at] += 1
    return seen


def count(world: World, pk: int, on: dt.date, normal: int) -> None:
    dish = Replicate.objects.select_related("test").get(pk=pk)
    germination.count_dish(dish=dish, on=on, by=world.bench, normal=normal)


def finish_group(
    world: World,
    test_pk: int,
    pk: int,
    counts: dict[str, int],
    normal: int,
    on: dt.date,
    then: Then,
) -> None:
    """The last look at a group; then another is sown, or the test is over."""
    dish = Replicate.objects.select_related("test").get(pk=pk)
    germination.count_dish(
        dish=dish, on=on, by=world.bench, normal=normal, abnormal=counts["abnormal"]
    )
    test = test_of(test_pk)
    verdict = germination.finish_group(
        test=test, on=on, by=world.bench, hard=counts["hard"], fresh=counts["fresh"]
    )
    if verdict.outcome == Outcome.SOW_MORE:
        _sow_another(world, test, on, then)
        return
    then(world, test.lot_id, _percent(test), on)


def _sow_another(world: World, test: GerminationTest, on: dt.date, then: Then) -> None:
    try:
        group = germination.sow_more(test=test, on=on, by=world.bench)
    except Refused:  # what was left has been lent since
        germination.close_test(test=test, replicates=[], on=on, by=world.bench)
        then(world, test.lot_id, _percent(test), on)
        return
    watch(world, test_of(test.pk), group, on, then)


def close(world: World, pk: int, on: dt.date, then: Then) -> None:
    test = test_of(pk)
    counts = world.last_counts.pop(pk)
    germination.close_test(test=test, replicates=counts, on=on, by=world.bench)
    then(world, test.lot_id, _percent(test), on)


def _percent(test: GerminationTest) -> float:
    sums = Replicate.objects.filter(test=test).aggregate(of=Sum("seeds"), normal=Sum("normal"))
    return float(100 * sums["normal"] / sums["of"])


def test_of(pk: int) -> GerminationTest:
    return GerminationTest.objects.with_lot().get(pk=pk)
