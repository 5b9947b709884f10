"""Counting dishes: day by day, at the end, or a whole test at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Any

from django.db import transaction
from django.db.models import Max, Sum
from django.utils import timezone
from django.utils.translation import gettext as _

from library.errors import Conflict, Refused
from library.germination.dates import settle
from library.germination.few_seeds import set_verdict, verdict_of
from library.germination.models import DayCount, GerminationTest, Replicate
from library.germination.services.counts import (
    BY_DAY,
    COUNTS,
    MOST_IN_A_REPLICATE,
    check_by_day,
    check_total,
    final_counts,
)
from library.germination.services.holding import State, held
from library.germination.services.planning import (
    MOST_REPLICATES,
    Kind,
    lay_out,
    plan_and_groups,
    write_down,
)
from library.science.sequential import Outcome, Verdict
from library.stock.models import Lot
from library.stock.services.checks import day_here, happened_on, in_words, whole


@transaction.atomic
def count_dish(
    *, dish: Replicate, on: dt.date, by, normal: int = 0, abnormal: int = 0, dead: int = 0
) -> Replicate:
    """Write down what was taken out of a dish on one day, in place of what that day said."""
    day = {"normal": normal, "abnormal": abnormal, "dead": dead}
    for name, number in day.items():
        whole(number, field=name, least=0, most=MOST_IN_A_REPLICATE)
    held(dish.test, State.RUNNING)
    dish.refresh_from_db()
    _check_can_be_counted(dish, on)
    sums = _sums_with(dish, on, day)
    check_total(dish, sum(sums.values()))
    DayCount.objects.update_or_create(
        replicate=dish, on=on, defaults=day | {"recorded_by": by, "recorded_at": timezone.now()}
    )
    for name, number in sums.items():
        setattr(dish, name, number)
    dish.save(update_fields=BY_DAY)
    return dish


def _check_can_be_counted(dish: Replicate, on: dt.date) -> None:
    if dish.counted_on is not None:
        raise Conflict(
            _("Dish %(number)s was finished on %(on)s.")
            % {"number": dish.number, "on": in_words(dish.counted_on)}
        )
    happened_on(on, since=dish.sown_on, since_what=_("the day the dish was sown"))


def _sums_with(dish: Replicate, on: dt.date, day: Mapping[str, int]) -> dict[str, int]:
    """The sums of all days, were this what one of them says."""
    others = dish.day_counts.exclude(on=on).aggregate(**{name: Sum(name) for name in day})
    return {name: number + (others[name] or 0) for name, number in day.items()}


@transaction.atomic
def finish_group(
    *,
    test: GerminationTest,
    on: dt.date,
    by,
    hard: int = 0,
    fresh: int = 0,
    dead: int | None = None,
) -> Verdict:
    """Close the group that was counted day by day, and say what all groups say.

    Above or below closes the test; else another group is to be sown.
    """
    held(test, State.RUNNING)
    plan, groups = plan_and_groups(test)
    last = groups[-1]
    if last.counted_on is not None:
        raise Conflict(
            _("Every group of test %(number)s is finished; sow another.") % {"number": test.pk}
        )
    rest = {} if dead is None else {"dead": dead}
    _finish([last], [{"hard": hard, "fresh": fresh} | rest], on)
    verdict = verdict_of(plan, groups)
    if verdict.outcome != Outcome.SOW_MORE:
        _over(test, groups, on)
    return verdict


@transaction.atomic
def close_test(
    *, test: GerminationTest, replicates: Sequence[Mapping[str, Any]], on: dt.date, by
) -> GerminationTest:
    """Write down the last counts of every dish that is not finished, and set the day of the
    next test.

    ``normal``, ``abnormal`` and ``dead`` are totals, those counted by day included; dead that
    is not given is the rest. A test with few seeds says what its groups decide, if anything.
    """
    held(test, State.RUNNING)
    return _close(test, replicates, on)


@transaction.atomic
def record_test(
    *,
    lot: Lot,
    replicates: Sequence[Mapping[str, Any]],
    started_on: dt.date,
    closed_on: dt.date,
    by,
    substrate: str = "",
    temperature_c: str = "",
    directions: str = "",
    note: str = "",
) -> GerminationTest:
    """Write down a test that is over: draws its seed, counts it, sets the next day."""
    whole(len(replicates), field="replicates", most=MOST_REPLICATES)
    day_here(lot, started_on, field="started_on")
    dishes = [
        whole(dish.get("seeds"), field="replicates", most=MOST_IN_A_REPLICATE)
        for dish in replicates
    ]
    test = write_down(
        lot=lot,
        dishes=dishes,
        kind=Kind.FIXED,
        started_on=started_on,
        recorded_by=by,
        substrate=substrate,
        temperature_c=temperature_c,
        directions=directions,
        note=note,
    )
    return _close(lay_out(test, started_on, by), replicates, closed_on)


def _close(
    test: GerminationTest, counts: Sequence[Mapping[str, Any]], on: dt.date
) -> GerminationTest:
    dishes = list(test.replicates.all())
    open_ones = [dish for dish in dishes if dish.counted_on is None]
    if len(open_ones) != len(counts):
        raise Refused(
            _("The test has %(dishes)s dishes, and %(counts)s were counted.")
            % {"dishes": len(open_ones), "counts": len(counts)},
            field="replicates",
        )
    _finish(open_ones, counts, on)
    _over(test, dishes, on)
    return test


def _finish(dishes: list[Replicate], counts: Sequence[Mapping[str, Any]], on: dt.date) -> None:
    """Write the last counts of dishes whose test is held."""
    _check_last_day(dishes, on)
    for dish, given in zip(dishes, counts, strict=True):
        last = final_counts(dish, given)
        check_by_day(dish, last)
        for name, number in last.items():
            setattr(dish, name, number)
        dish.counted_on = on
    Replicate.objects.bulk_update(dishes, [*COUNTS, "counted_on"])


def _check_last_day(dishes: list[Replicate], on: dt.date) -> None:
    sown = [dish.sown_on for dish in dishes if dish.sown_on]
    happened_on(on, since=max(sown, default=None), since_what=_("the day the dish was sown"))
    by_day = DayCount.objects.filter(replicate__in=dishes).aggregate(last=Max("on"))["last"]
    happened_on(on, since=by_day, since_what=_("the last day a dish was counted"))


def _over(test: GerminationTest, dishes: list[Replicate], on: dt.date) -> None:
    """Close a test that is held, all of whose dishes are finished."""
    last = max(dish.counted_on for dish in dishes if dish.counted_on)
    happened_on(on, since=last, since_what=_("the last day a dish was counted"))
    test.state, test.closed_on = State.CLOSED, on
    set_verdict(test, dishes)
    test.save(update_fields=["state", "closed_on", "verdict", "cut_off"])
    settle(test.lot)
